import { describe, expect, it } from 'vitest';
import { inUnit, withUnit } from './shop.svelte';

describe('lengths in the shop’s unit', () => {
  it('are said short, and never as minus nothing', () => {
    expect(inUnit(152.4, 'in')).toBe('6 in');
    expect(inUnit(152.404, 'mm')).toBe('152.4 mm');
    expect(inUnit(-0.001, 'mm')).toBe('0 mm');
  });
  it('get their unit as they are typed, unless they have one', () => {
    const length = (text: string, unit: 'mm' | 'in'): string => withUnit(text, 'length', unit);
    expect(length('6', 'in')).toBe('6 in');
    expect(length(' 1-1/2 ', 'in')).toBe('1-1/2 in');
    expect(length('3/8', 'in')).toBe('3/8 in');
    for (const typed of ['6 mm', '7 ga', '0', '', 'M12', '1,250 mm']) expect(length(typed, 'in')).toBe(typed);
    for (const typed of ['3/8', '1-1/2', '1,250']) expect(length(typed, 'mm')).toBe(typed);
    expect(length('12,5', 'mm')).toBe('12,5 mm');
  });
  it('get it behind two numbers too, and behind a diameter', () => {
    expect(withUnit('0.6, 0.8', 'place', 'in')).toBe('0.6, 0.8 in');
    expect(withUnit('1 1/2,3/4', 'place', 'in')).toBe('1 1/2,3/4 in');
    expect(withUnit('40, 30', 'place', 'mm')).toBe('40, 30 mm');
    for (const typed of ['0.6 in, 0.8', '40 mm, 30 mm', 'A1', '3/4, 1'])
      expect(withUnit(typed, 'place', 'mm')).toBe(typed);
    expect(withUnit('48 x 24', 'sheet', 'in')).toBe('48 x 24 in');
    for (const typed of ['4x8', '5 x 10', '48 x 24 mm']) expect(withUnit(typed, 'sheet', 'in')).toBe(typed);
    expect(withUnit('1/2', 'hole', 'in')).toBe('1/2 in');
    for (const typed of ['1/2 in bolt', 'M12']) expect(withUnit(typed, 'hole', 'in')).toBe(typed);
  });
  it('leave other quantities their own unit, and words alone', () => {
    expect(withUnit('45', 'current', 'in')).toBe('45 A');
    expect(withUnit('2', 'time', 'mm')).toBe('2 s');
    expect(withUnit('100', 'speed', 'in')).toBe('100 in/min');
    for (const says of ['share', 'count', undefined]) expect(withUnit('45', says, 'in')).toBe('45');
  });
});
