import { describe, expect, it } from 'vitest';
import type { BurnEntry, CutData } from '../../api-types';
import { chosenAt, decide, decidedAt, foundIn, movedTo, put } from './model';

const cut = (number: string, more: Partial<CutData> = {}): CutData => ({
  number,
  kind: 'outline',
  label: '#1 strap',
  contour: 0,
  placement: 0,
  part: 'strap',
  copy: 1,
  mirrored: false,
  why: [],
  pierce_mm: [0, 0],
  spot: [0, 0],
  speed_mm_min: 2000,
  frees: [],
  ...more,
});
const burn = (): BurnEntry => ({ table: '', chart: '', amperage: '', leads: [], options: {} });

describe('the cut in hand', () => {
  const [hole, first, second] = [cut('1', { contour: 1, kind: 'hole' }), cut('2'), cut('3')];
  it('stays the same run of the same contour in another order', () => {
    const chosen = chosenAt([hole, first, second], 2);
    expect(foundIn([first, hole, second], chosen)).toBe(2);
    expect(foundIn([second, first, hole], chosen)).toBe(1); // runs are counted along the contour
  });
  it('falls to the contour’s only run once its tabs are gone, and is none where it is not cut', () => {
    const chosen = chosenAt([first, second], 1);
    expect(foundIn([hole, first], chosen)).toBe(1);
    expect(foundIn([hole], chosen)).toBe(-1);
    expect([foundIn([first], null), chosenAt([first], 7)]).toEqual([-1, null]);
  });
});

describe('what is decided about a cut', () => {
  it('stands beside what was decided before, and goes when it decides nothing', () => {
    const made = burn();
    decide(made, cut('1'), (l) => put(l.options, 'lead', 'arc'));
    decide(made, cut('1'), (l) => (l.at_mm = [1, 2]));
    expect(made.leads).toHaveLength(1);
    expect(decidedAt(made, cut('1'))).toBe(0);
    expect(decidedAt(made, cut('1', { mirrored: true }))).toBe(-1);
    decide(made, cut('1'), (l) => put(l.options, 'lead', ' '));
    expect(made.leads).toHaveLength(1);
    decide(made, cut('1'), (l) => (l.at_mm = null));
    expect(made.leads).toEqual([]);
  });
  it('moves a start along one axis', () => {
    expect([movedTo([1, 2], 0, 9), movedTo([1, 2], 1, 9)]).toEqual([
      [9, 2],
      [1, 9],
    ]);
  });
});
