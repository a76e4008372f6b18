import { describe, expect, it } from 'vitest';
import { millimetres } from './typed';

describe('a typed place', () => {
  it('is in millimetres', () => {
    expect(millimetres('120')).toBe(120);
    expect(millimetres(' -12,5 mm')).toBe(-12.5);
    expect(millimetres('.5MM')).toBe(0.5);
  });
  it('is refused in any other words, never guessed', () => {
    for (const other of ['5 in', '1/2', '5"', '', 'mm', '12 cm', '1.2.3', 'NaN']) expect(millimetres(other)).toBeNull();
  });
});
