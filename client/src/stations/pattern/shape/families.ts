// The families of shapes: fetched once, told apart, and what a shape's dimensions are kept as.
import type { Form, LivePart } from '../../../api-types';
import { get } from '../../../lib/api';
import type { Made } from '../source/sources';

const all = new Map<string, Promise<Form[]>>();
/** The families as a shop of a unit begins them. */
export function families(unit: string): Promise<Form[]> {
  const request =
    all.get(unit) ??
    get<Form[]>('/families').catch((wrong: unknown) => {
      all.delete(unit); // the next look asks again
      throw wrong;
    });
  all.set(unit, request);
  return request;
}

export type Values = Record<string, string>;

/** Letters and signs are the families that take a font. */
export const isSign = (f: Form): boolean => f.fields.some((p) => p.kind === 'font');

/** The dimensions a shape begins with; a sign is as thick as the plate, and its words are still to be typed. */
export const begun = (f: Form, plate: string | undefined): Values => {
  const values: Values = Object.fromEntries(f.fields.map((p) => [p.name, p.kind === 'text' ? '' : p.begin]));
  return isSign(f) && plate && 'sheet' in values ? { ...values, sheet: plate } : values;
};

/** Whether the words of a sign are still to be typed. */
export const wordless = (f: Form, values: Values): boolean =>
  f.fields.some((p) => p.name === 'text' && p.kind === 'text') && !values['text']?.trim();

/** What is drawn of a shape: a sign without words shows the example's. */
export const shownAs = (f: Form, values: Values): Values =>
  wordless(f, values)
    ? {
        ...values,
        ...Object.fromEntries(f.fields.flatMap((p) => (p.kind === 'text' ? [[p.name, p.default]] : []))),
      }
    : values;

export const nameOf = (f: Form): string => f.title.split(/[:,(]| with | for /)[0]?.trim() || f.name;

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
