// How a value of an operation's form is shown as it would be typed, and where a place is measured from.
import type { ZeroData } from '../api-types';
import { shop } from './shop/shop.svelte';

export const PLAIN: ZeroData = { name: 'the drawing’s zero', at_mm: [0, 0] };

/** A value as it would be typed; what another way of making a job keeps as numbers gets its unit. */
export function asTyped(value: unknown, kind = ''): string {
  if (value && typeof value === 'object' && 'said' in value) return String(value.said);
  if (kind === 'length' && typeof value === 'number') return shop.say(value);
  if (kind === 'spot' && Array.isArray(value)) return shop.sayPlace(Number(value[0]), Number(value[1]));
  if (Array.isArray(value)) return ['', 'one edge'][value.length] ?? `${value.length} edges`;
  return value && typeof value === 'object' ? 'one edge' : String(value ?? '');
}

/** A place as it is kept: what was typed, and the zero it counts from. */
export const measuredFrom = (zero: ZeroData, typed: string): unknown =>
  zero.name === PLAIN.name ? typed : { said: typed, from: zero.at_mm, zero: zero.name };

/** What was typed anew, with the zero that was chosen before. */
export const placedAgain = (was: unknown, typed: string): unknown =>
  was && typeof was === 'object' && 'from' in was ? { ...was, said: typed } : typed;

export const zeroOf = (value: unknown): string =>
  value && typeof value === 'object' && 'zero' in value ? `from ${String(value.zero)}` : '';
