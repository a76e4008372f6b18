// The families of shapes: fetched once, told apart, and what a shape's dimensions are kept as.
import type { FamilyView, LivePart } from '../../api-types';
import { get } from '../../lib/api';
import type { Made } from './sources';

let all: Promise<FamilyView[]> | null = null;
export const families = (): Promise<FamilyView[]> =>
  (all ??= get<FamilyView[]>('/families').catch((wrong: unknown) => {
    all = null; // the next look asks again
    throw wrong;
  }));

export type Values = Record<string, string>;

/** Letters and signs are the families that take a font. */
export const isSign = (f: FamilyView): boolean => f.parameters.some((p) => p.kind === 'font');

/** The dimensions a shape begins with; a sign is as thick as the plate. */
export const begun = (f: FamilyView, plate: string | undefined): Values => {
  const values: Values = Object.fromEntries(f.parameters.map((p) => [p.name, p.default]));
  return isSign(f) && plate && 'sheet' in values ? { ...values, sheet: plate } : values;
};

export const nameOf = (f: FamilyView): string => f.title.split(/[:,]/)[0] ?? f.name;

/** The parts that dimensions stand for: one, or several such as the letters of a word. */
export function madeBy(family: string, name: string, values: Values, pieces: LivePart['pieces']): Made[] {
  const several = pieces.length ? pieces : [{ name: '', values: { ...values } }];
  return several.map((piece) => ({
    name: `${name.trim()} ${piece.name}`.trim().slice(0, 60),
    source: { kind: 'family', family, values: piece.values },
  }));
}

const FONTS = ['heavy', 'condensed', 'serif', 'script', 'stencil'];
/** The fonts offered: ours, those that were sent in just now, and the one in use. */
export const fontsFor = (now: string, own: Values): [string, string][] => [
  ...FONTS.map((f): [string, string] => [f, f]),
  ...Object.entries(now.startsWith('file ') && !(now in own) ? { ...own, [now]: 'your own font' } : own),
];

/** A few of many names. */
export const few = (names: readonly string[]): string =>
  `${names.slice(0, 12).join(', ')}${names.length > 12 ? ' …' : ''}`;
