import { describe, expect, it } from 'vitest';
import type { CutData, TrackData } from '../../api-types';
import { lostCut, lostNear, stoodAt } from './model';

const cut = (number: string, kind: string, placement: number): CutData => ({
  number,
  kind,
  label: '',
  contour: 0,
  placement,
  part: 'a',
  copy: 1,
  mirrored: false,
  why: [],
  pierce_mm: [0, 0],
  spot: [0, 0],
  speed_mm_min: 2000,
  frees: [],
});
// one cut runs along the plate's lower edge, a mark above it
const cuts = [cut('1', 'outline', 4), cut('2', 'mark', 4)];
const track: TrackData = {
  t_s: [0, 1, 2, 3, 4],
  x: [0, 0, 100, 0, 100],
  y: [0, 0, 0, -50, -50],
  cut: [-1, 0, 0, 1, 1],
  ends_s: [2, 4],
  total_s: 4,
};

describe('where it went wrong', () => {
  it('is the nearest cut and the place on it, with the piece it belongs to', () => {
    expect(lostNear(cuts, track, [40, 2], 5)).toEqual({ cut: 0, at: [40, 0], piece: 4 });
  });
  it('is the whole cut where it never got through', () => {
    expect(lostNear(cuts, track, [-1, 0], 5)).toEqual({ cut: 0, at: null, piece: 4 });
    expect(lostCut(cuts, 7, null).piece).toBe(-1);
  });
  it('is nothing beyond reach, at a mark, or before there is a plan', () => {
    expect(lostNear(cuts, track, [40, 20], 5)).toBeNull();
    expect(lostNear(cuts, track, [40, -50], 5)).toBeNull();
    expect(lostNear([], undefined, [40, 0], 5)).toBeNull();
  });
  it('is read from what the table shows, where y goes up', () => {
    expect(stoodAt(cuts, track, [40, 12])?.at).toEqual([40, 0]);
    expect(stoodAt(cuts, track, [40, 49])).toBeNull();
  });
});
