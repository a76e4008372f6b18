// Where it went wrong, as it is tapped or typed: a cut and where its arc went out, or a piece.
import type { CutData, Problem, TrackData } from '../../api-types';
import { toPicture, toPlate, type Spot } from '../../lib/drawing/plate';
import { nearestCut } from '../../lib/drawing/track';

export interface Lost {
  /** The cut, from 0; -1 for none. */
  cut: number;
  /** Where its arc went out on the plate [mm]; nothing if it never got through. */
  at: Spot | null;
  /** The piece that is spoiled with it; -1 for none. */
  piece: number;
}

export const NONE: Lost = { cut: -1, at: null, piece: -1 };

/** How far a place that a table shows may lie from a cut [mm]. */
const STANDS = 15;

export const lostCut = (cuts: readonly CutData[], cut: number, at: Spot | null): Lost => ({
  cut,
  at,
  piece: cuts[cut]?.placement ?? -1,
});

/** The cut nearest to a place on the picture, and where on it; nothing if none is within reach, or it is a mark. */
export function lostNear(
  cuts: readonly CutData[],
  track: TrackData | undefined,
  spot: Spot,
  reach: number,
): Lost | null {
  const near = track ? nearestCut(track, spot, reach) : null;
  return near && cuts[near.cut]?.kind !== 'mark'
    ? lostCut(cuts, near.cut, near.first ? null : toPlate(near.at))
    : null;
}

/** The cut nearest to where a table says the torch stood. */
export const stoodAt = (cuts: readonly CutData[], track: TrackData | undefined, place: Spot): Lost | null =>
  lostNear(cuts, track, toPicture(place), STANDS);

export const noneThere = (text: string): Problem => ({
  code: 'page',
  where: '',
  values: {},
  what: `No cut runs within ${STANDS} mm of “${text}”.`,
  allowed: 'x and y on the plate, like 412, 230 mm',
  do: 'Type what the table showed when the arc went out, or tap the picture.',
});
