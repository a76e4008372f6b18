// The stations of the line, in order, and what the page calls them.
export const STATIONS = [
  'pattern',
  'part',
  'plate',
  'layout',
  'burn',
  'program',
  'proof',
  'paper',
  'price',
] as const;
export type Station = (typeof STATIONS)[number];

/** Everything that is worked, in order: what goes on after something went wrong stands between proof and paper. */
export const WORKED = [
  'pattern',
  'part',
  'plate',
  'layout',
  'burn',
  'program',
  'proof',
  'rescue',
  'paper',
  'price',
] as const;
export type Worked = (typeof WORKED)[number];

/** Where what is worked in a step is looked at. */
export const placeOf = (worked: Worked): Place => (worked === 'rescue' ? 'wrong' : worked);
/** Stations that have a step for each plate the parts go over. */
const PER_PLATE: readonly string[] = ['layout', 'burn', 'program', 'proof', 'paper'];

/** The id of a station's step for a plate of the layout, from 1. */
export const stepId = (station: string, plate: number): string =>
  plate > 1 && PER_PLATE.includes(station) ? `${station}:${plate}` : station;

/** Where one can be in a job: at a station, on the sheet of the whole job, at the table, or where it went wrong. */
export type Place = Station | 'sheet' | 'table' | 'wrong';

export const CALLED: Record<Place, string> = {
  pattern: 'Pattern',
  part: 'Part',
  plate: 'Plate',
  layout: 'Layout',
  burn: 'Burn',
  program: 'Program',
  proof: 'Proof',
  paper: 'Paper',
  price: 'Price',
  sheet: 'Whole job',
  table: 'At the table',
  wrong: 'It went wrong',
};

/** What pressing on from a station does, in words. */
export const NEXT: Record<Station, string> = {
  pattern: 'Work on the part',
  part: 'Choose the plate',
  plate: 'Lay the parts',
  layout: 'Plan the burn',
  burn: 'Write the program',
  program: 'Prove it',
  proof: 'Print the papers',
  paper: 'Price it',
  price: 'Back to the jobs',
};

export function isPlace(word: string): word is Place {
  return ['sheet', 'table', 'wrong'].includes(word) || isStation(word);
}

export function isStation(word: string): word is Station {
  return (STATIONS as readonly string[]).includes(word);
}
