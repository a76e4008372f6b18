import { describe, expect, it } from 'vitest';
import { count, millimetres, noCount, placeOf } from './typed';

describe('a typed place', () => {
  it('is in millimetres', () => {
    expect(millimetres('120')).toBe(120);
    expect(millimetres(' -12,5 mm')).toBe(-12.5);
    expect(millimetres('.5MM')).toBe(0.5);
  });
  it('is refused in any other words, never guessed', () => {
    for (const other of ['5 in', '1/2', '5"', '', 'mm', '12 cm', '1.2.3', '1,000', 'NaN'])
      expect(millimetres(other)).toBeNull();
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
