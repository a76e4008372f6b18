import { describe, expect, it } from 'vitest';
import type { FirstView } from '../../../api-types';
import { shop } from '../../../lib/shop/shop.svelte';
import { calledAfter, entryOf, kindOf, madeOf } from './sources';

describe('a chosen file', () => {
  it('is known by its ending', () => {
    expect(['a.DXF', 'b.svg', 'c.csv', 'd.json', 'e.jpg', 'f'].map(kindOf)).toEqual([
      'drawing',
      'drawing',
      'points',
      'points',
      'photo',
      'photo',
    ]);
  });
  it('gives the part its name', () => {
    expect(calledAfter('hinge strap.v2.jpg', 'part')).toBe('hinge strap.v2');
    expect(calledAfter('.jpg', 'part')).toBe('part');
    expect(calledAfter(`${'x'.repeat(90)}.png`, 'part')).toHaveLength(60);
  });
  it('is what it was chosen as, unless its name says that it is a drawing or points', () => {
    const kinds = (name: string) =>
      (['photo', 'scan', 'picture'] as const).map((way) => madeOf(name, ['f'], way, '6 mm').source.kind);
    expect(kinds('a.jpg')).toEqual(['photo', 'scan', 'picture']);
    expect(kinds('a.dxf')).toEqual(['drawing', 'drawing', 'picture']);
    expect(kinds('a.csv')).toEqual(['points', 'points', 'picture']);
  });
  it('with others is one part seen from several sides', () => {
    const { source } = madeOf('a.jpg', ['f', 'g'], 'photo', '');
    expect(source.kind === 'photo' && source.files).toEqual(['f', 'g']);
  });
  it('takes numbers as meant on the rule of the shop', () => {
    const grid = () => {
      const { source } = madeOf('a.jpg', ['f'], 'photo', '');
      return source.kind === 'photo' ? source.fitting.round_to : '';
    };
    expect(grid()).toBe('0.5 mm');
    shop.first = { unit: 'in' } as FirstView;
    expect(grid()).toBe('1/32 in');
    shop.first = null;
  });
  it('begins with sizes in the unit of the shop', () => {
    shop.first = { unit: 'in' } as FirstView;
    for (const way of ['photo', 'scan', 'picture'] as const)
      expect(JSON.stringify(madeOf('a.jpg', ['f'], way, '1/4 in').source)).not.toMatch(/mm\b/);
    shop.first = null;
  });
  it('shares nothing with the next one', () => {
    const [a, b] = [1, 2].map(() => madeOf('a.jpg', ['f'], 'photo', '').source);
    if (a?.kind === 'photo' && b?.kind === 'photo') a.fitting.refuse.push('x');
    expect(b?.kind === 'photo' && b.fitting.refuse).toEqual([]);
  });
});

describe('a part that is added', () => {
  it('is one of it, in a metal of its own where there is no plate yet', () => {
    const entry = entryOf(madeOf('a.dxf', ['f'], 'photo', ''), null);
    expect([entry.name, entry.thickness, entry.quantity]).toEqual(['a', '6 mm', 1]);
    expect(entry.id).toMatch(/^[0-9a-f]{8}$/);
  });
});
