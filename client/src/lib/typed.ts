// A place typed into the page, which is always in millimetres.

/** The millimetres a text says, or nothing if it says anything else; a comma is a decimal point. */
export function millimetres(text: string): number | null {
  const said = /^\s*([-+]?(?:\d+(?:[.,]\d*)?|[.,]\d+))\s*(?:mm)?\s*$/i.exec(text)?.[1];
  return said === undefined ? null : Number(said.replace(',', '.'));
}
