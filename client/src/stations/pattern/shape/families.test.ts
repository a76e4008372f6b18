import { describe, expect, it } from 'vitest';
import type { Form } from '../../../api-types';
import { testField } from '../../../lib/testfield';
import { begun, few, fontsFor, isSign, madeBy, nameOf, shownAs, wordless } from './families';

const family = (...kinds: string[]): Form => ({
  name: 'word',
  title: 'Word: letters in a row',
  help: '',
  fields: kinds.map((kind) =>
    testField(kind === 'length' ? 'sheet' : kind, kind, {
      default: '6 mm',
      begin: kind === 'text' ? 'EGGS' : '6 mm',
    }),
  ),
});

describe('a family of shapes', () => {
  it('is a sign if it takes a font, and is then as thick as the plate', () => {
    expect([family('length'), family('length', 'font')].map(isSign)).toEqual([false, true]);
    expect(begun(family('length', 'font'), '3 mm')['sheet']).toBe('3 mm');
    expect(begun(family('length'), '3 mm')['sheet']).toBe('6 mm');
    expect(begun(family('length', 'font'), undefined)['sheet']).toBe('6 mm');
    expect(nameOf(family())).toBe('Word');
  });
  it('shows an example’s words until its own are typed', () => {
    const sign = family('length', 'font', 'text');
    const values = begun(sign, undefined);
    expect(values['text']).toBe('');
    expect(wordless(sign, values)).toBe(true);
    expect(shownAs(sign, values)['text']).toBe('6 mm');
    expect(shownAs(sign, { ...values, text: 'BARN' })['text']).toBe('BARN');
    expect(wordless(family('length'), {})).toBe(false);
  });
  it('is called by its shape alone', () => {
    for (const [title, name] of [
      ['Round flange with bore and bolt circle', 'Round flange'],
      ['Lug (pin eye)', 'Lug'],
      ['Gusset: straight, rounded or scalloped', 'Gusset'],
      ['Ring', 'Ring'],
    ] as const)
      expect(nameOf({ ...family(), title })).toBe(name);
  });
  it('makes one part, or one of each piece it stands for', () => {
    const pieces = [
      { name: 'A', values: { piece: '1' } },
      { name: 'B', values: { piece: '2' } },
    ];
    expect(madeBy('word', ' sign ', { text: 'AB' }, [])).toEqual([
      { name: 'sign', source: { kind: 'family', family: 'word', values: { text: 'AB' } } },
    ]);
    expect(madeBy('word', 'sign', {}, pieces).map((m) => m.name)).toEqual(['sign A', 'sign B']);
  });
  it('offers a font of the shop’s own where it is in use', () => {
    expect(fontsFor('heavy', {})).toHaveLength(5);
    expect(fontsFor('file 12', {}).at(-1)).toEqual(['file 12', 'your own font']);
    expect(fontsFor('file 12', { 'file 12': 'Shop.ttf' }).at(-1)).toEqual(['file 12', 'Shop.ttf']);
  });
  it('of many names tells twelve', () => {
    expect(few(['a', 'b'])).toBe('a, b');
    expect(few(Array.from({ length: 13 }, (_, n) => String(n)))).toMatch(/11 …$/);
  });
});
