import { describe, expect, it } from 'vitest';
import { inUnit, withUnit } from './shop.svelte';

describe('lengths in the shop’s unit', () => {
  it('are said short, and never as minus nothing', () => {
    expect(inUnit(152.4, 'in')).toBe('6 in');
    expect(inUnit(152.404, 'mm')).toBe('152.4 mm');
    expect(inUnit(-0.001, 'mm')).toBe('0 mm');
  });
  it('get their unit as they are typed, unless they have one', () => {
    expect(withUnit('6', 'in')).toBe('6 in');
    expect(withUnit(' 1-1/2 ', 'in')).toBe('1-1/2 in');
    expect(withUnit('3/8', 'in')).toBe('3/8 in');
    for (const said of ['6 mm', '7 ga', '0', '', 'M12', '1,250 mm']) expect(withUnit(said, 'in')).toBe(said);
    for (const said of ['3/8', '1-1/2', '1,250']) expect(withUnit(said, 'mm')).toBe(said);
    expect(withUnit('12,5', 'mm')).toBe('12,5 mm');
  });
});
