// A place typed into the page, which is always in millimetres.
import type { Problem } from '../api-types';

/** The millimetres a text says, or nothing if it says anything else; a comma is a decimal point. */
export function millimetres(text: string): number | null {
  const said = /^\s*([-+]?(?:\d+(?:[.,]\d*)?|[.,]\d+))\s*(?:mm)?\s*$/i.exec(text)?.[1];
  return said === undefined ? null : Number(said.replace(',', '.'));
}

/** What is told of a text that says no place. */
export const noPlace = (text: string): Problem => ({
  code: 'page', where: '', values: {}, what: `“${text}” is no place on the plate.`, allowed: 'millimetres, such as 120 or 120 mm', do: 'Type it again.',
});
