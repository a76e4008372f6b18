import { describe, expect, it } from 'vitest';
import { clock, indexAt, nearestCut, nextEnd, through, torchAt, type Track } from './track';

const track: Track = {
  t_s: [0, 2, 4, 8],
  x: [0, 0, 20, 20],
  y: [0, 0, 0, -40],
  cut: [-1, 0, 0, 1],
  ends_s: [4, 8],
  total_s: 8,
};

describe('playing the burn', () => {
  it('finds the torch between two spots', () => {
    expect(torchAt(track, 3)).toEqual({ x: 10, y: 0, cut: 0 });
    expect(torchAt(track, 0)).toEqual({ x: 0, y: 0, cut: -1 });
    expect(torchAt(track, 99)).toEqual({ x: 20, y: -40, cut: 1 });
  });
  it('counts what is through', () => {
    expect([0, 3.9, 4, 8].map((t) => through(track, t))).toEqual([0, 0, 1, 2]);
  });
  it('steps from contour to contour and back', () => {
    expect(nextEnd(track, 0, false)).toBe(4);
    expect(nextEnd(track, 4, false)).toBe(8);
    expect(nextEnd(track, 8, false)).toBe(8);
    expect(nextEnd(track, 8, true)).toBe(4);
    expect(nextEnd(track, 1, true)).toBe(0);
  });
  it('searches like a plain scan', () => {
    const times = Array.from({ length: 500 }, (_, i) => i * 0.37);
    for (const t of [0, 0.1, 0.37, 55.5, 200]) {
      expect(indexAt(times, t)).toBe(times.filter((v) => v <= t).length - 1);
    }
  });
  it('shows minutes and seconds', () => {
    expect(clock(296.6)).toBe('4:57');
  });
});

it('the nearest cut is found with the place on it, its start told apart', () => {
  const two = {
    t_s: [0, 1, 2, 3, 4, 5],
    x: [0, 0, 10, 50, 50, 60],
    y: [0, 0, 0, 0, 20, 20],
    cut: [-1, 0, 0, -1, 1, 1],
    ends_s: [2, 5],
    total_s: 5,
  };
  expect(nearestCut(two, [5, 2], 3)).toEqual({ cut: 0, at: [5, 0], first: false });
  expect(nearestCut(two, [-1, 0], 3)).toEqual({ cut: 0, at: [0, 0], first: true });
  expect(nearestCut(two, [30, 0], 3)).toBeNull();
  expect(nearestCut(two, [57, 21], 3)?.cut).toBe(1);
});
