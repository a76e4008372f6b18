// The plate takes the metal of the parts, unless it is a real one: from the rack, or drawn.
import { shop } from '../shop/shop.svelte';
import type { JobDocument, PlateEntry, StockView } from '../../api-types';

export function sameMetal(d: JobDocument): boolean {
  return [d.plate, ...d.more_plates].every((plate) =>
    d.parts.every((p) => p.thickness === plate.thickness && p.grade === plate.grade),
  );
}

export function plateTakesMetal(d: JobDocument): void {
  const [first] = d.parts;
  if (!first || d.parts.some((p) => p.thickness !== first.thickness || p.grade !== first.grade)) return;
  for (const plate of [d.plate, ...d.more_plates])
    if (!plate.stock && !plate.outline_mm.length && !plate.history.length)
      Object.assign(plate, { thickness: first.thickness, grade: first.grade });
}

/** Pieces put by hand lie on the plates there were: with other plates they are laid anew. */
export function otherPlates(d: JobDocument, change: (plates: PlateEntry[]) => void): void {
  change(d.more_plates);
  Object.assign(d.layout, { placements: [], by_hand: false, on: [], skews: {}, go_on: '' });
}

/** A full sheet in the parts' metal beside the plates there are. */
export function sheetBeside(d: JobDocument): void {
  const plain = { ...structuredClone(d.plate), ...FRESH(), name: 'full sheet' };
  otherPlates(d, (plates) => plates.push(plain));
  plateTakesMetal(d);
}

export function takeFromRack(d: JobDocument, s: StockView): void {
  otherPlates(d, () => Object.assign(d.plate, s.plate, { stock: s.id }));
}

const FRESH = (): Omit<PlateEntry, 'thickness' | 'grade'> => ({
  name: 'sheet',
  kind: 'sheet',
  size: shop.unit === 'in' ? '48 x 24 in' : '1200 x 600 mm',
  owned: false,
  outline_mm: [],
  holes: [],
  stock: '',
  history: [],
  photo: '',
  from_photo: '',
  rack: '',
  held_for: '',
  cost: '',
  grain: '',
});

/** A full sheet in the parts' metal, in place of a plate of the rack. */
export function freshSheet(d: JobDocument): void {
  Object.assign(d.plate, FRESH());
  plateTakesMetal(d);
}

export const plateSaid = (p: { name: string; size: string; outline_mm: unknown[] }): string =>
  `${p.name}, ${p.size}`;
