// The cuts of a plan as they are chosen and decided by hand.
import type { BurnEntry, CutData, LeadEntry, Form } from '../../api-types';
import type { Spot } from '../../lib/drawing/plate';

/** The cut in hand: which run of which contour, so that a new plan's order does not change it. */
export interface Chosen {
  cut: CutData;
  run: number;
}

const sameContour = (a: CutData, b: CutData): boolean =>
  a.kind === b.kind &&
  a.part === b.part &&
  a.copy === b.copy &&
  a.mirrored === b.mirrored &&
  a.contour === b.contour;

/** Where the runs of a cut's contour stand in the plan; tabs part a contour into more than one. */
const runs = (cuts: readonly CutData[], cut: CutData): number[] =>
  cuts.flatMap((c, n) => (sameContour(c, cut) ? [n] : []));

export function chosenAt(cuts: readonly CutData[], at: number): Chosen | null {
  const cut = cuts[at];
  return cut ? { cut, run: runs(cuts, cut).indexOf(at) } : null;
}

/** Where the cut in hand stands in a plan; -1 if none is in hand, or it is not in this plan. */
export function foundIn(cuts: readonly CutData[], chosen: Chosen | null): number {
  if (!chosen) return -1;
  const all = runs(cuts, chosen.cut);
  return all[chosen.run] ?? all[0] ?? -1;
}

const decides = (l: LeadEntry, cut: CutData): boolean =>
  l.part === cut.part && l.copy_number === cut.copy && l.mirrored === cut.mirrored && l.contour === cut.contour;

/** Where what is decided about a cut stands; -1 if nothing is. */
export const decidedAt = (burn: BurnEntry | undefined, cut: CutData | undefined): number =>
  burn && cut ? burn.leads.findIndex((l) => decides(l, cut)) : -1;

/** Decide something about one cut; what is decided already stays, and what decides nothing goes. */
export function decide(burn: BurnEntry, cut: CutData, change: (l: LeadEntry) => void): void {
  const { part, copy: copy_number, mirrored, contour } = cut;
  let lead = burn.leads.find((l) => decides(l, cut));
  if (!lead) burn.leads.push((lead = { part, copy_number, mirrored, contour, at_mm: null, options: {} }));
  change(lead);
  burn.leads = burn.leads.filter((l) => l.at_mm || Object.keys(l.options).length);
}

/** Keep a choice as it was typed; an empty one is the planner's. */
export function put(values: Record<string, unknown>, key: string, value: string): void {
  if (value.trim()) values[key] = value;
  else delete values[key];
}

/** A place with one of its two lengths typed anew. */
export const movedTo = (place: Readonly<Spot>, axis: 0 | 1, mm: number): Spot =>
  axis === 0 ? [mm, place[1]] : [place[0], mm];

/** How many choices of a group were made. */
export const chosenIn = (form: Form, options: Record<string, unknown>): number =>
  form.fields.filter((f) => options[f.name] !== undefined).length;

export const called = (c: CutData): string => `cut ${c.number}: ${c.kind} of ${c.label}`;
