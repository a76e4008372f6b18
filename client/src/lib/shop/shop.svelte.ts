// What the page knows of its shop: in which unit it speaks, and which questions of the first evening are open.
import type { FirstView } from '../../api-types';
import { get } from '../api';

class ShopFacts {
  first = $state.raw<FirstView | null>(null);

  async load(): Promise<void> {
    this.first = await get<FirstView>('/first').catch(() => this.first);
  }
  get unit(): 'mm' | 'in' {
    return this.first?.unit ?? 'mm';
  }
  get open(): FirstView['open'] {
    return this.first?.open ?? [];
  }
  /** A length in the shop's unit, as it is shown and as it may be typed back. */
  say(mm: number): string {
    return inUnit(mm, this.unit);
  }
  /** A speed in the shop's unit. */
  saySpeed(perMinute: number): string {
    return this.unit === 'in' ? `${Math.round((perMinute / 25.4) * 10) / 10} in/min` : `${perMinute} mm/min`;
  }
  /** A place in the shop's unit, as it may be typed back. */
  sayPlace(x: number, y: number): string {
    return `${inUnit(x, this.unit).split(' ')[0]}, ${inUnit(y, this.unit)}`;
  }
}

export const shop = new ShopFacts();

/** A length said in a unit: hundredths of a millimetre, or thousandths of an inch, without trailing zeros. */
export function inUnit(mm: number, unit: 'mm' | 'in'): string {
  const shown = unit === 'in' ? Math.round((mm / 25.4) * 1000) / 1000 : Math.round(mm * 100) / 100;
  return `${Object.is(shown, -0) ? 0 : shown} ${unit}`;
}

/** Quantities that have one unit in a shop: a bare number is taken in it, and shown with it. */
const ONE_UNIT: Record<string, string> = { current: 'A', time: 's', angle: 'deg' };

/** A number as it is typed; in a place its comma stands between two of them. */
const DECIMAL = String.raw`[-+]?(?:\d+(?:[.,]\d+)?|[.,]\d+)`;
const POINTED = String.raw`[-+]?(?:\d+(?:\.\d+)?|\.\d+)`;
const FRACTION = String.raw`[-+]?(?:\d+[ -])?\d+\/\d+`;
const LENGTHS = ['length', 'hole', 'place', 'sheet'];
const BETWEEN: Record<string, string> = { place: '[,;]', sheet: '[xX×*]' };

/** What was typed with its unit behind it, where it is a bare number, or two: nothing is taken in a unit unseen. A bare
 * fraction is an inch's, and stays as typed where the shop speaks millimetres: the server asks what it is a part of. */
export function withUnit(text: string, says: string | undefined, unit: 'mm' | 'in'): string {
  if (!says) return text;
  const named = LENGTHS.includes(says) ? unit : says === 'speed' ? `${unit}/min` : ONE_UNIT[says];
  const between = BETWEEN[says];
  const number = between ? POINTED : DECIMAL;
  const one = named === 'in' ? `(?:${FRACTION}|${number})` : number;
  const bare = new RegExp(`^\\s*${one}\\s*${between ? `${between}\\s*${one}\\s*` : ''}$`);
  const kept = /^\s*([-+]?0+|[-+]?[1-9]\d{0,2},\d{3}|\d\s*[xX×*]\s*\d{1,2})\s*$/; // nothing, thousands, a sheet in feet
  return named && bare.test(text) && (says === 'place' || !kept.test(text)) ? `${text.trim()} ${named}` : text;
}
