// Where a tap is meant: on the start, on a straight or slanting line from the last corner, on the grid.
import { toPicture, type Spot } from './plate';

export interface SnapTo {
  grid: number;
  from: Readonly<Spot> | null;
  start: Readonly<Spot> | null;
  reach: number;
}

const onGrid = (v: number, grid: number): number =>
  grid > 0 ? Math.round(v / grid) * grid : Math.round(v * 100) / 100;

/** Return where a tap at `at` is taken to be, and whether it closes the outline; lengths in millimetres. */
export function snapped(at: Readonly<Spot>, to: SnapTo): { at: Spot; closes: boolean } {
  if (to.start && Math.hypot(at[0] - to.start[0], at[1] - to.start[1]) <= to.reach) {
    return { at: [to.start[0], to.start[1]], closes: true };
  }
  let [x, y] = [onGrid(at[0], to.grid), onGrid(at[1], to.grid)];
  if (to.from) {
    if (Math.abs(at[0] - to.from[0]) <= to.reach) x = to.from[0];
    if (Math.abs(at[1] - to.from[1]) <= to.reach) y = to.from[1];
  }
  return { at: [x, y], closes: false };
}

/** The corner on the plate nearest to a tap on the picture, if one lies within reach. */
export function nearest(at: Readonly<Spot>, corners: readonly Readonly<Spot>[], reach: number): Spot | null {
  let found: Spot | null = null;
  let least = reach;
  for (const corner of corners) {
    const [x, y] = toPicture(corner);
    const away = Math.hypot(x - at[0], y - at[1]);
    if (away <= least) [found, least] = [[corner[0], corner[1]], away];
  }
  return found;
}
