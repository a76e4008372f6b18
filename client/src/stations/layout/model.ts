// Placed pieces as the page handles them: where they lie, where a hand puts them, and what is kept of that.
import type {
  FieldData,
  LayoutEntry,
  OwnEntry,
  PlacedData,
  PlacementEntry,
  PoseData,
  SceneData,
  Item,
  Skewed,
} from '../../api-types';
import { toPlate, type Spot } from '../../lib/drawing/plate';

export type Piece = Item & { pose: PoseData };
/** Where a piece lies on the plate. */
export type Lying = Pick<PoseData, 'x_mm' | 'y_mm' | 'angle_rad'>;

const isPiece = (i: Item): i is Piece => !!i.pose && i.id.startsWith('placed:');

export const piecesOf = (scene: SceneData | null | undefined): Piece[] => (scene?.items ?? []).filter(isPiece);

/** The number the server knows a piece by. */
export const indexOf = (piece: Piece): number => Number(piece.id.split(':')[1]);

/** Where a piece lies once it is dragged on the picture, where y goes down. */
export function dragged(pose: PoseData, from: Readonly<Spot>, to: Readonly<Spot>): Lying {
  return { x_mm: pose.x_mm + to[0] - from[0], y_mm: pose.y_mm - (to[1] - from[1]), angle_rad: pose.angle_rad };
}

/** Where a piece lies once it is turned about its middle. */
export function turned(piece: Piece, degrees: number): Lying {
  const { x_mm, y_mm, angle_rad } = piece.pose;
  const [cx, cy] = toPlate(piece.spot ?? [0, 0], 0.001);
  const a = (degrees * Math.PI) / 180;
  const [dx, dy] = [x_mm - cx, y_mm - cy];
  return {
    x_mm: cx + dx * Math.cos(a) - dy * Math.sin(a),
    y_mm: cy + dx * Math.sin(a) + dy * Math.cos(a),
    angle_rad: angle_rad + a,
  };
}

/** What is chosen about all parts, as its form shows it. */
export const asSaid = (entry: LayoutEntry): Record<string, unknown> => ({
  ...entry,
  seconds: typeof entry.seconds === 'number' ? `${entry.seconds} s` : entry.seconds,
});

/** A choice about one part as it is kept: what is empty is as for the rest. */
export const ownSaid = (field: FieldData, text: string): Partial<OwnEntry> => ({
  [field.name]: field.kind === 'flag' ? text === 'yes' : text,
});

/** Put a choice about one part beside what is known of it already. */
export function choose(entry: LayoutEntry, part: string, more: Partial<OwnEntry>): void {
  const known = entry.own.find((o) => o.part === part);
  if (known) Object.assign(known, more);
  else entry.own.push({ part, turns: '', face_down: false, clear: '', ...more });
}

/** How a plate of the layout was touched on the table, to be changed. */
export const skewOn = (l: LayoutEntry, plate: number): Skewed =>
  plate === 1 ? l.skew : (l.skews[plate] ??= { drawn_mm: [], touched_mm: [] });

/** How a plate of the layout was touched on the table, to be shown. */
export const touchedOn = (l: LayoutEntry | undefined, plate: number): Skewed =>
  (plate === 1 ? l?.skew : l?.skews[plate]) ?? { drawn_mm: [], touched_mm: [] };

/** Every copy of the layout as it is placed by hand, with one on a plate changed. */
export function placedAnew(
  placed: readonly PlacedData[],
  plate: number,
  index: number,
  more: Partial<PlacementEntry>,
): PlacementEntry[] {
  const at = placed.filter((p) => p.plate < plate).length + index;
  return placed.map((p, n) => ({ ...p, ...(n === at ? more : {}) }));
}
