// One thing done to a part, while it is being said: what was typed and tapped for each field of its form so far.
import type { EdgeData, Form, SceneData, Item, ZeroData } from '../../api-types';
import { toPlate, type Spot } from '../../lib/drawing/plate';
import { measuredFrom } from '../../lib/formvalue';
import { shop } from '../../lib/shop/shop.svelte';

export type Inputs = Record<string, unknown>;
/** What is said so far, and the field a tap goes to. */
export interface Filled {
  inputs: Inputs;
  active: string;
}

const TAPPED = ['edges', 'edge', 'spot'];

/** A form as it is opened: what it proposes, and the first field that is tapped. */
export const begun = (form: Form): Filled => ({
  inputs: Object.fromEntries(form.fields.map((f) => [f.name, f.kind === 'edges' ? [] : f.begin])),
  active: form.fields.find((f) => TAPPED.includes(f.kind))?.name ?? '',
});

const isEdge = (value: unknown): value is EdgeData =>
  typeof value === 'object' && value !== null && 'edge' in value && 'contour' in value;
/** The edges a field holds. */
const edgesIn = (value: unknown): EdgeData[] => (Array.isArray(value) ? value : [value]).filter(isEdge);
const sameEdge = (a: EdgeData, b: EdgeData): boolean => a.contour === b.contour && a.edge === b.edge;

/** What is said after a tap: an edge taken or put away again, or a place measured from a zero. */
export function tapped(form: Form, filled: Filled, at: Spot, item: Item | null, zero: ZeroData): Filled {
  const { inputs, active } = filled;
  const kind = form.fields.find((f) => f.name === active)?.kind;
  const ref = item?.ref;
  if (kind === 'edges' && ref) {
    const held = edgesIn(inputs[active]);
    const rest = held.filter((e) => !sameEdge(e, ref));
    return { inputs: { ...inputs, [active]: rest.length < held.length ? rest : [...held, ref] }, active };
  }
  if (kind === 'edge' && ref) return { inputs: { ...inputs, [active]: ref }, active };
  if (kind !== 'spot') return filled;
  const [x, y] = toPlate(at, 0.1);
  const place = shop.sayPlace(x - zero.at_mm[0], y - zero.at_mm[1]);
  const made = { ...inputs, [active]: measuredFrom(zero, place) };
  return { inputs: made, active: form.fields.find((f) => f.kind === 'spot' && !made[f.name])?.name ?? active };
}

/** The ids of the edges that are said on the picture. */
export const idsOf = (inputs: Inputs): string[] =>
  Object.values(inputs)
    .flatMap(edgesIn)
    .map((e) => `edge:${e.contour}:${e.edge}`);

/** Where the end of a picked edge lies that a form says will move. */
export function movingEnd(scene: SceneData | null, { inputs }: Filled): Spot | null {
  const [id] = 'moves' in inputs ? idsOf(inputs) : [];
  const numbers = scene?.items.find((i) => i.id === id)?.d.match(/-?\d+(\.\d+)?/g);
  if (!numbers || numbers.length < 4) return null;
  const [x, y] = (inputs.moves === 'start' ? numbers.slice(0, 2) : numbers.slice(-2)).map(Number);
  return toPlate([x ?? 0, y ?? 0]);
}

/** The edges of a picture by name, for whoever cannot point at them; those in `picked` are ticked. */
export function edgeNames(scene: SceneData | null, picked: ReadonlySet<string>): [string, string][] {
  const named = (scene?.items ?? [])
    .filter((i) => i.kind === 'edge')
    .map((i): [string, string] => {
      const [, contour, edge] = i.id.split(':');
      const at = i.spot ? `, by ${shop.sayPlace(...toPlate(i.spot))}` : '';
      const which = `${picked.has(i.id) ? '✓ ' : ''}${contour === '0' ? '' : `hole ${contour}, `}edge ${edge}:`;
      return [i.id, `${which} ${shop.say(i.length_mm ?? 0)} ${i.radius_mm ? 'arc' : 'long'}${at}`];
    });
  return [['', 'choose …'], ...named];
}

/** What is being measured: an edge, or one or two places. */
export interface Measured {
  edge: Item | null;
  spots: Spot[];
}

export const measuredNext = (before: Measured, at: Spot, item: Item | null): Measured =>
  item?.kind === 'edge' ? { edge: item, spots: [] } : { edge: null, spots: [...before.spots.slice(-1), at] };
