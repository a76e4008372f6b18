// Playing the burn: where the torch is at a moment, and what is through by then.
import type { TrackData } from '../../api-types';

export type Track = TrackData;

/** The index of the last entry not after a moment (binary search). */
export function indexAt(times: readonly number[], moment: number): number {
  let low = 0;
  let high = times.length - 1;
  while (low < high) {
    const middle = (low + high + 1) >> 1;
    if ((times[middle] ?? 0) <= moment) low = middle;
    else high = middle - 1;
  }
  return low;
}

export function torchAt(track: Track, moment: number): { x: number; y: number; cut: number } {
  const i = indexAt(track.t_s, moment);
  const j = Math.min(i + 1, track.t_s.length - 1);
  const from = track.t_s[i] ?? 0;
  const span = (track.t_s[j] ?? 0) - from;
  const share = span > 0 ? Math.min(Math.max((moment - from) / span, 0), 1) : 0;
  const mix = (a: number[]): number => (a[i] ?? 0) + ((a[j] ?? 0) - (a[i] ?? 0)) * share;
  return { x: mix(track.x), y: mix(track.y), cut: moment > 0 ? (track.cut[i] ?? -1) : -1 };
}

/** How many cuts are through at a moment. */
export function through(track: Track, moment: number): number {
  let count = 0;
  for (const end of track.ends_s) if (end <= moment) count += 1;
  return count;
}

/** The next moment a cut ends (or the one before), for stepping contour by contour. */
export function nextEnd(track: Track, moment: number, back: boolean): number {
  const ends = [0, ...track.ends_s];
  if (back) return ends.filter((e) => e < moment - 1e-3).at(-1) ?? 0;
  return ends.find((e) => e > moment + 1e-3) ?? track.total_s;
}

/** A moment as minutes and seconds, rounded as every other time is. */
export function clock(seconds: number): string {
  const whole = Math.round(seconds);
  return `${Math.floor(whole / 60)}:${String(whole % 60).padStart(2, '0')}`;
}

/** The cut nearest to a place on the picture, where on it, and whether that is its start; null beyond reach [mm]. */
export function nearestCut(
  track: Track,
  at: readonly [number, number],
  reach: number,
): { cut: number; at: [number, number]; first: boolean } | null {
  let least = reach;
  let found: { cut: number; at: [number, number]; first: boolean } | null = null;
  for (let i = 1; i < track.t_s.length; i++) {
    const cut = track.cut[i] ?? -1;
    if (cut < 0 || track.cut[i - 1] !== cut) continue;
    const [ax, ay, bx, by] = [track.x[i - 1]!, track.y[i - 1]!, track.x[i]!, track.y[i]!];
    const long = (bx - ax) ** 2 + (by - ay) ** 2;
    const share =
      long > 0 ? Math.min(Math.max(((at[0] - ax) * (bx - ax) + (at[1] - ay) * (by - ay)) / long, 0), 1) : 0;
    const [x, y] = [ax + (bx - ax) * share, ay + (by - ay) * share];
    const away = Math.hypot(at[0] - x, at[1] - y);
    if (away < least) {
      least = away;
      found = { cut, at: [x, y], first: share === 0 && track.cut[i - 2] !== cut };
    }
  }
  return found;
}
