/** Whether two plain JSON values say the same, whatever the order of their keys; a key without a value is none. */
export function same(a: unknown, b: unknown): boolean {
  if (a === b) return true;
  if (
    typeof a !== 'object' ||
    typeof b !== 'object' ||
    a === null ||
    b === null ||
    Array.isArray(a) !== Array.isArray(b)
  )
    return false;
  const [one, other] = [a, b] as Record<string, unknown>[];
  if (!one || !other) return false;
  return [...new Set([...Object.keys(one), ...Object.keys(other)])].every((k) => same(one[k], other[k]));
}
