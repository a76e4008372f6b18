// The plate takes the metal of the parts, unless it is a real one: from the rack, or drawn.
import { shop } from './shop.svelte';
import type { JobDocument, PlateEntry, StockView } from '../api-types';

export function sameMetal(d: JobDocument): boolean {
  return d.parts.every((p) => p.thickness === d.plate.thickness && p.grade === d.plate.grade);
}

export function plateTakesMetal(d: JobDocument): void {
  const [first] = d.parts;
  const { plate } = d;
  if (!first || plate.stock || plate.outline_mm.length || plate.history.length) return;
  if (d.parts.every((p) => p.thickness === first.thickness && p.grade === first.grade))
    Object.assign(plate, { thickness: first.thickness, grade: first.grade });
}

export function takeFromRack(d: JobDocument, s: StockView): void {
  Object.assign(d.plate, s.plate, { stock: s.id });
}

/** A full sheet in the parts' metal, in place of a plate of the rack. */
export function freshSheet(d: JobDocument): void {
  const fresh: Partial<PlateEntry> = {
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
  };
  Object.assign(d.plate, fresh);
  plateTakesMetal(d);
}

export const plateSaid = (p: { name: string; size: string; outline_mm: unknown[] }): string =>
  `${p.name}, ${p.size}`;
