// A place typed into the page: in the unit it names, else in the shop's.
import type { FieldData, Problem, SayAsk } from '../api-types';
import { shop } from './shop/shop.svelte';

/** The millimetres a text says, or nothing if it says anything else. A comma is a decimal point, unless it may group
 * thousands. */
export function millimetres(text: string, unit: 'mm' | 'in' = shop.unit): number | null {
  const found = /^\s*([-+]?(?:\d+(?:[.,]\d*)?|[.,]\d+))\s*(mm|in|")?\s*$/i.exec(text);
  const digits = found?.[1];
  if (digits === undefined || /^[-+]?[1-9]\d{0,2},\d{3}$/.test(digits)) return null;
  const named = found?.[2] === '"' ? 'in' : (found?.[2]?.toLowerCase() ?? unit);
  return Number(digits.replace(',', '.')) * (named === 'in' ? 25.4 : 1);
}

/** The count a text says, or nothing if it is not digits between `low` and `high`. */
export function count(text: string, low: number, high: number): number | null {
  const digits = /^\s*(\d{1,9})\s*$/.exec(text)?.[1];
  const n = Number(digits ?? NaN);
  return n >= low && n <= high ? n : null;
}

/** What is told of a text that is no count. */
export const noCount = (text: string, low: number, high: number, kept: string): Problem => ({
  code: 'page',
  where: '',
  values: {},
  what: text.trim() ? `“${text.slice(0, 40)}” is not a count.` : 'The count is missing.',
  allowed: `a whole number, ${low} to ${high}`,
  do: `${kept} is kept until you put it right.`,
});

/** What is told of a text that says no place. */
export const noPlace = (text: string): Problem => ({
  code: 'page',
  where: '',
  values: {},
  what: `“${text}” is no place on the plate.`,
  allowed: shop.unit === 'in' ? 'inches or millimetres, such as 4.5 in' : 'millimetres, such as 120 or 120 mm',
  do: 'Type it again.',
});

/** Use a length that was typed as a place on the plate, or tell that it is none. */
export function placeTyped(report: { problem: Problem | null }, text: string, use: (mm: number) => unknown): void {
  const mm = millimetres(text);
  if (mm !== null) use(mm);
  else report.problem = noPlace(text);
}

/** What is told of a text that names no cut. */
export const noCut = (text: string, cuts: readonly { number: string }[]): Problem => ({
  code: 'page',
  where: '',
  values: {},
  what: `There is no cut “${text}”.`,
  allowed: `${cuts[0]?.number} to ${cuts.at(-1)?.number}`,
  do: 'Type its number again.',
});

const SAID: Record<string, SayAsk['kind']> = {
  length: 'length',
  angle: 'angle',
  hole: 'hole',
  share: 'share',
  ratio: 'share',
  time: 'time',
  current: 'current',
  speed: 'speed',
  spot: 'place',
  count: 'count',
};
/** How a field of a form shows what was understood, if it holds a quantity. */
export const sayOf = (f: { kind: string }): { says?: SayAsk['kind'] | undefined } =>
  SAID[f.kind] ? { says: SAID[f.kind] } : {};

const YES_NO = ['yes', 'no'];
/** The choices a field offers; none for one that is typed. */
export const offered = (f: FieldData): readonly string[] => (f.kind === 'flag' ? YES_NO : f.choices);

/** What stands below a field: a word of help, and its range with the unit. */
export const hintOf = (f: FieldData): string => [f.help, f.allowed].filter(Boolean).join('; ');

/** The most digits a count may have: nine. */
const MOST_COUNT = 999_999_999;
/** Between which counts a field of a form must lie, if it is one with a range. */
export const countOf = ({ kind, low, high }: FieldData): { count?: [number, number] } =>
  kind === 'count' && typeof low === 'number' && typeof high === 'number'
    ? { count: [Math.max(low, 0), Math.min(high, MOST_COUNT)] }
    : {};

/** A value of a form as it would be chosen or typed. */
export const asChosen = (value: unknown): string =>
  value === true ? 'yes' : value === false ? 'no' : String(value ?? '');

/** Two lengths a text says as a place, x and y [mm]; a bare number is in the shop's unit; nothing if it says else. */
export function placeOf(text: string, unit: 'mm' | 'in'): [number, number] | null {
  const match = /^\s*(-?\d+(?:\.\d+)?)\s*(mm|in)?\s*[,;\s]\s*(-?\d+(?:\.\d+)?)\s*(mm|in)?\s*$/i.exec(text);
  if (!match) return null;
  const factor = (named: string | undefined): number => ((named ?? unit).toLowerCase() === 'in' ? 25.4 : 1);
  return [Number(match[1]) * factor(match[2] ?? match[4]), Number(match[3]) * factor(match[4] ?? match[2])];
}

/** A rate with what it is per behind it, where it is a bare number and a shop may count in two ways. */
export const withPer = (text: string, unit: string): string =>
  /^per (kg|lb|m²|ft²)$/.test(unit) && /^\s*\d+(\.\d+)?\s*$/.test(text) ? `${text.trim()} ${unit}` : text;

/** A tax with per cent behind it, where it is a bare number of one or more: nobody's tax is its whole price. */
export const withPerCent = (text: string): string =>
  /^\s*[1-9]\d*(\.\d+)?\s*$/.test(text) ? `${text.trim()} %` : text;
