import { describe, expect, it } from 'vitest';
import { snapped } from './snap';

describe('snapping', () => {
  it('closes on the start', () => {
    expect(snapped([1, 1], { grid: 1, from: [50, 50], start: [0, 0], reach: 2 })).toEqual({
      at: [0, 0],
      closes: true,
    });
  });
  it('runs straight from the last corner', () => {
    expect(snapped([49.2, 12.4], { grid: 5, from: [50, 80], start: null, reach: 2 }).at).toEqual([50, 10]);
  });
  it('goes to the grid, or stays free', () => {
    expect(snapped([12.34, 7.77], { grid: 5, from: null, start: null, reach: 2 }).at).toEqual([10, 10]);
    expect(snapped([12.345, 7.771], { grid: 0, from: null, start: null, reach: 2 }).at).toEqual([12.35, 7.77]);
  });
});
