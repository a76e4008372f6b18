// What a chosen file becomes: the source of a part as it is kept, with what every shop begins with in its unit.
import type { Fitting, JobDocument, PartEntry, PhotoSource } from '../../../api-types';
import type { Source } from '../../../lib/job/parts.svelte';
import { shop } from '../../../lib/shop/shop.svelte';

/** A part before it is in the job. */
export interface Made {
  name: string;
  source: Source;
}

/** What a file was chosen as; a drawing or points file is told by its name. */
export type Way = 'photo' | 'scan' | 'picture';

const inUnit = (mm: string, inches: string): string => (shop.unit === 'in' ? inches : mm);
/** How points become a shape, at first: numbers are taken as meant on the rule the shop measures with. */
const fitting = (): Fitting => ({
  tolerance: '',
  refuse: [],
  relations: true,
  round_to: inUnit('0.5 mm', '1/32 in'),
});
/** Marks put on a reading by hand: none yet. */
const untouched = (): Pick<PhotoSource, 'bars' | 'left_out' | 'moved' | 'fitting'> => ({
  bars: ['', ''],
  left_out: [],
  moved: [],
  fitting: fitting(),
});

export const kindOf = (name: string): 'photo' | 'drawing' | 'points' =>
  /\.(dxf|svg)$/i.test(name) ? 'drawing' : /\.(csv|txt|tsv|asc|json)$/i.test(name) ? 'points' : 'photo';

/** What a part is called that comes from a file: the file's name without its ending. */
export const calledAfter = (name: string, otherwise: string): string =>
  name.replace(/\.[^.]*$/, '').slice(0, 60) || otherwise;

const drawing = (name: string, file: string): Source => ({
  kind: 'drawing',
  file,
  name,
  unit: '',
  gap: '',
  open_lines: 'tell',
  texts: '',
  text_height: '',
});

export const points = (name: string, file: string): Source => ({
  kind: 'points',
  file,
  name,
  unit: '',
  left_out: [],
  fitting: fitting(),
});

const scan = (name: string, file: string): Source => ({ kind: 'scan', file, name, dpi: null, ...untouched() });

const photo = (name: string, files: string[]): Source => ({
  kind: 'photo',
  files,
  name,
  template: inUnit('3 mm', '1/8 in'),
  cards_on: 'offcuts',
  click: null,
  painted: [],
  holes: null,
  anyway: false,
  ...untouched(),
});

const picture = (name: string, file: string, sheet: string): Source => ({
  kind: 'picture',
  file,
  name,
  width: inUnit('300 mm', '12 in'),
  level: null,
  invert: false,
  smooth: inUnit('0.3 mm', '0.012 in'),
  smallest: inUnit('3 mm', '1/8 in'),
  fill: false,
  keep: 'largest',
  thin: 'thin places',
  sheet,
  kerf: inUnit('1.5 mm', '1/16 in'),
  strokes: [],
});

/** The part that files become which the shop keeps under `kept`; `name` is the first one's. */
export function madeOf(name: string, kept: readonly string[], way: Way, sheet: string): Made {
  const one = kept[0] ?? '';
  const kind = kindOf(name);
  if (way === 'picture') return { name: calledAfter(name, 'silhouette'), source: picture(name, one, sheet) };
  const source =
    kind === 'drawing'
      ? drawing(name, one)
      : kind === 'points'
        ? points(name, one)
        : way === 'scan'
          ? scan(name, one)
          : photo(name, [...kept]);
  return { name: calledAfter(name, 'part'), source };
}

const fresh = (): string =>
  Array.from(crypto.getRandomValues(new Uint8Array(4)), (b) => b.toString(16).padStart(2, '0')).join('');

/** A part as the job takes it: one of it, in the plate's metal. */
export const entryOf = ({ name, source }: Made, job: JobDocument | null): PartEntry => ({
  id: fresh(),
  name,
  thickness: job?.plate.thickness ?? shop.say(6),
  grade: job?.plate.grade ?? 'mild steel',
  quantity: 1,
  pairs: false,
  first: 0,
  filler: false,
  worth: '',
  source,
  operations: [],
});
