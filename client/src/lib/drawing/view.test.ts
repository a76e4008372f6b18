import { describe, expect, it } from 'vitest';
import { alike, fitted, moved, pinched, under, zoomed } from './view';

const screen = { width: 400, height: 200 };

describe('pan and zoom', () => {
  it('shows the whole box in the middle', () => {
    const view = fitted([10, -110, 100, 100], screen);
    expect(under(view, 200, 100)).toEqual([60, -60]);
    expect(view.scale).toBe(2);
  });
  it('keeps the place under the pointer', () => {
    const view = fitted([0, 0, 100, 100], screen);
    const before = under(view, 37, 141);
    const after = under(zoomed(view, 3.7, 37, 141), 37, 141);
    expect(after[0]).toBeCloseTo(before[0], 9);
    expect(after[1]).toBeCloseTo(before[1], 9);
  });
  it('keeps what is between two fingers between them', () => {
    const view = fitted([0, 0, 100, 100], screen);
    const before = under(view, 100, 80);
    const after = under(pinched(view, [100, 80, 50], [130, 90, 100]), 130, 90);
    expect(after[0]).toBeCloseTo(before[0], 9);
    expect(after[1]).toBeCloseTo(before[1], 9);
  });
  it('moves with the hand', () => {
    const view = { scale: 2, x: 0, y: 0 };
    expect(under(moved(view, 20, 10), 20, 10)).toEqual([0, 0]);
  });
  it('knows a thing that grew a little from another one', () => {
    expect(alike([0, -100, 100, 100], [0, -110, 120, 110])).toBe(true);
    expect(alike([0, -100, 100, 100], [0, -300, 150, 300])).toBe(false);
    expect(alike([0, -100, 100, 100], [200, -100, 100, 100])).toBe(false);
  });
});
