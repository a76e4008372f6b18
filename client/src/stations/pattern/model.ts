// What a hand does on the picture of a pattern, as it is kept.
import type { LeftOut, Moved, ImageData, Item, StrokeEntry } from '../../api-types';
import { toPlate, type Spot } from '../../lib/drawing/plate';

export type Tool = '' | 'corner' | 'smudge' | 'add' | 'take';

/** A smudge that is tapped is left out this far round [mm]. */
const SMUDGE = 12;
/** How wide a stroke is, as a part of the picture's width. */
const STROKE = 0.02;

export const smudgeAt = (at: Spot): LeftOut => ({ at_mm: toPlate(at), radius_mm: SMUDGE });

export const cornerMoved = (from: Spot, to: Spot): Moved => ({
  at_mm: toPlate(from, 0.001),
  to_mm: toPlate(to, 0.001),
});

/** A place on the scene as a part of the picture's width, from its upper left. */
export const onImage = (image: ImageData, at: Spot): Spot => [
  (at[0] - image.x) / image.width,
  (at[1] - image.y) / image.width,
];

export const strokeOf = (image: ImageData, from: Spot, to: Spot, metal: boolean): StrokeEntry => ({
  points: [onImage(image, from), onImage(image, to)],
  width: STROKE,
  metal,
});

/** What is said of moved bridges once one of them is put elsewhere: what was said of the others stays. */
export function bridgeMoved(typed: string, bridge: Item, to: Spot): string {
  const name = bridge.id.replace(/^grip:/, '');
  const others = typed
    .split(';')
    .map((one) => one.trim())
    .filter((one) => one && !one.startsWith(`${name}:`));
  const at = toPlate(to).map((v) => v.toFixed(2));
  return [...others, `${name}: ${at.join(' ')}`].join('; ');
}
