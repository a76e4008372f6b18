import { describe, expect, it } from 'vitest';
import type { Problem } from '../api-types';
import {
  asChosen,
  count,
  countOf,
  hintOf,
  millimetres,
  noCount,
  noCut,
  offered,
  placeOf,
  placeTyped,
  withPer,
  withPerCent,
} from './typed';
import { testField } from './testfield';

describe('a place typed in a shop of inches', () => {
  it('is in inches unless it names millimetres', () => {
    expect(millimetres('4.5', 'in')).toBeCloseTo(114.3);
    expect(millimetres('4.5 mm', 'in')).toBe(4.5);
    expect(millimetres('2 in', 'mm')).toBeCloseTo(50.8);
    expect(millimetres('2"', 'mm')).toBeCloseTo(50.8);
    expect(millimetres('2 ft', 'mm')).toBeNull();
  });
});

describe('a typed place', () => {
  it('is in millimetres', () => {
    expect(millimetres('120')).toBe(120);
    expect(millimetres(' -12,5 mm')).toBe(-12.5);
    expect(millimetres('.5MM')).toBe(0.5);
  });
  it('is refused in any other words, never guessed', () => {
    for (const other of ['1/2', '5 ft', '', 'mm', '12 cm', '1.2.3', '1,000', 'NaN'])
      expect(millimetres(other)).toBeNull();
  });
});

describe('a pair typed in two units', () => {
  it('takes each in its own, and one unit for both', () => {
    expect(placeOf('1 in, 50 mm', 'mm')).toEqual([25.4, 50]);
    expect(placeOf('50 mm, 1 in', 'mm')).toEqual([50, 25.4]);
    expect(placeOf('2, 1 in', 'mm')).toEqual([50.8, 25.4]);
    expect(placeOf('2, 1', 'in')).toEqual([50.8, 25.4]);
  });
});

describe('a typed count', () => {
  it('is digits in a range, and nothing else', () => {
    expect(count(' 12 ', 1, 5000)).toBe(12);
    for (const other of ['six', '0', '-2', '2.5', '', '1e3', '5001', '½'])
      expect(count(other, 1, 5000)).toBeNull();
    expect(noCount('six', 1, 5000, '4').do).toContain('4 is kept');
  });
});

describe('a typed place of two lengths', () => {
  it('is in the unit said, or the shop’s', () => {
    expect(placeOf('412, 230 mm', 'in')).toEqual([412, 230]);
    expect(placeOf('10 -5', 'mm')).toEqual([10, -5]);
    expect(placeOf('1, 2', 'in')).toEqual([25.4, 50.8]);
    expect(placeOf('1 in, 2', 'mm')).toEqual([25.4, 50.8]);
    for (const other of ['', '12', 'here', '1, 2, 3', '1/2, 3']) expect(placeOf(other, 'mm')).toBeNull();
  });
});

const field = testField('x', 'length');

describe('a field of a form', () => {
  it('shows its help and its range with the unit', () => {
    expect(hintOf({ ...field, help: 'on outlines', allowed: '0 mm to 20 mm' })).toBe('on outlines; 0 mm to 20 mm');
    expect(hintOf(field)).toBe('');
  });
  it('is a count only where its form says a range of counts', () => {
    expect(countOf({ ...field, kind: 'count', low: -5, high: 2 ** 53 })).toEqual({ count: [0, 999_999_999] });
    expect(countOf({ ...field, kind: 'count' })).toEqual({});
    expect(countOf({ ...field, low: 0, high: 9 })).toEqual({});
  });
  it('offers yes and no where it is one of the two', () => {
    expect(offered({ ...field, kind: 'flag' })).toEqual(['yes', 'no']);
    expect([true, false, undefined, 2, 'arc'].map(asChosen)).toEqual(['yes', 'no', '', '2', 'arc']);
  });
});

describe('what is typed at a station', () => {
  it('is used as a place, or told to be none and not used', () => {
    const report: { problem: Problem | null } = { problem: null };
    const used: number[] = [];
    placeTyped(report, '12 mm', (mm) => used.push(mm));
    expect(report.problem).toBeNull();
    placeTyped(report, 'twelve', (mm) => used.push(mm));
    expect(used).toEqual([12]);
    expect(report.problem?.what).toContain('twelve');
  });
  it('names the cuts there are where it names none', () => {
    expect(noCut('99', [{ number: '1' }, { number: '14b' }]).allowed).toBe('1 to 14b');
  });
});

describe('a rate', () => {
  it('gets what it is per as it is typed, where a shop may count in two ways', () => {
    expect(withPer('0.98', 'per lb')).toBe('0.98 per lb');
    for (const [typed, unit] of [
      ['2 per kg', 'per lb'],
      ['', 'per lb'],
      ['45', 'per hour'],
      ['cheap', 'per kg'],
    ] as const)
      expect(withPer(typed, unit)).toBe(typed);
  });
});

describe('a tax', () => {
  it('is in per cent where it is a bare number of one or more', () => {
    expect(withPerCent('7')).toBe('7 %');
    expect(withPerCent(' 8.25 ')).toBe('8.25 %');
    for (const typed of ['0.07', '7 %', '', 'none']) expect(withPerCent(typed)).toBe(typed);
  });
});
