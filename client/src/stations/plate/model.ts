// Things on the plate as they are said: old holes, magnets and clamps, the corners of a drop.
import type { KeepOutEntry, PlateEntry } from '../../api-types';
import type { Spot } from '../../lib/drawing/plate';
import { shop } from '../../lib/shop/shop.svelte';
import { millimetres } from '../../lib/typed';

export type Shape = PlateEntry['holes'][number];

const inUnit = (mm: string, inches: string): string => (shop.unit === 'in' ? inches : mm);

/** A hole or magnet where the picture was tapped, as wide as most are. */
export const roundAt = ([x, y]: Readonly<Spot>): Shape => ({
  kind: 'circle',
  x: shop.say(x),
  y: shop.say(y),
  diameter: inUnit('60 mm', '2.5 in'),
});

export const magnetAt = (at: Readonly<Spot>): KeepOutEntry => ({
  name: 'magnet',
  place: roundAt(at),
  stands: inUnit('50 mm', '2 in'),
});

/** The lengths a shape is said by, by name; a drawn one has none. */
export function lengthsOf(shape: Shape): [string, string][] {
  if (shape.kind === 'polygon') return [];
  const { kind: _, ...lengths } = shape;
  return Object.entries(lengths);
}

/** A shape with one of its lengths typed anew. */
export const withLength = (shape: Shape, name: string, text: string): Shape => ({ ...shape, [name]: text });

/** A round keep-out on the plate [mm], if what is said of it are lengths. */
export function roundOf(keepout: KeepOutEntry): { at: Spot; across: number } | null {
  const { place } = keepout;
  if (place.kind !== 'circle') return null;
  const [x, y, across] = [place.x, place.y, place.diameter].map((text) => millimetres(text));
  return x == null || y == null || across == null ? null : { at: [x, y], across };
}

export const rowsOf = (corners: readonly Readonly<Spot>[]): PlateEntry['outline_mm'] =>
  corners.map(([x, y]) => [x, y, 0]);
