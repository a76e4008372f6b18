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

export const CALLED: Record<Station, string> = {
  pattern: 'Pattern',
  part: 'Part',
  plate: 'Plate',
  layout: 'Layout',
  burn: 'Burn',
  program: 'Program',
  proof: 'Proof',
  paper: 'Paper',
  price: 'Price',
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

export function isStation(word: string): word is Station {
  return (STATIONS as readonly string[]).includes(word);
}
