import { describe, expect, it } from 'vitest';
import { lengthsOf, magnetAt, roundAt, roundOf, rowsOf, withLength } from './model';

describe('things on the plate', () => {
  it('are said where they were tapped', () => {
    expect(roundAt([120, 40])).toEqual({ kind: 'circle', x: '120 mm', y: '40 mm', diameter: '60 mm' });
    expect(magnetAt([1, 2]).name).toBe('magnet');
  });
  it('have the lengths of their kind, which can be typed anew', () => {
    const hole = roundAt([1, 2]);
    expect(lengthsOf(hole).map(([name]) => name)).toEqual(['x', 'y', 'diameter']);
    expect(lengthsOf({ kind: 'polygon', rows_mm: [] })).toEqual([]);
    expect(withLength(hole, 'x', '9 mm')).toEqual({ ...hole, x: '9 mm' });
    expect(hole).toMatchObject({ x: '1 mm' });
  });
  it('are drawn at once where what is said are lengths', () => {
    const magnet = magnetAt([10, 20]);
    expect(roundOf(magnet)).toEqual({ at: [10, 20], across: 60 });
    expect(roundOf({ ...magnet, place: { kind: 'circle', x: 'left', y: '0', diameter: '5' } })).toBeNull();
    expect(roundOf({ ...magnet, place: { kind: 'polygon', rows_mm: [] } })).toBeNull();
  });
  it('an outline of corners has straight edges', () => {
    expect(
      rowsOf([
        [0, 1],
        [2, 3],
      ]),
    ).toEqual([
      [0, 1, 0],
      [2, 3, 0],
    ]);
  });
});
