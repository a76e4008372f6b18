import { describe, expect, it } from 'vitest';
import type { FieldData, Form, Item } from '../../api-types';
import { PLAIN } from '../../lib/formvalue';
import { testField } from '../../lib/testfield';
import { begun, edgeNames, idsOf, measuredNext, movingEnd, tapped } from './model';

const field = (name: string, kind: string, begin = ''): FieldData => testField(name, kind, { begin });
const form = (...fields: FieldData[]): Form => ({ name: 'x', title: 'X', help: '', fields });
const edge = (n: number): Item => ({
  d: '',
  kind: 'edge',
  id: `edge:0:${n}`,
  title: '',
  spot: [10, -20],
  label: '',
  locked: false,
  ref: { contour: 0, edge: n, of: 4, mid_mm: [10, 20] },
  length_mm: 40,
  radius_mm: 0,
});

describe('an operation being said', () => {
  it('begins with what its form proposes and the first field that is tapped', () => {
    const filled = begun(form(field('hole', 'hole', 'M12'), field('at', 'spot'), field('sides', 'edges')));
    expect(filled).toEqual({ inputs: { hole: 'M12', at: '', sides: [] }, active: 'at' });
  });
  it('takes an edge, and puts it away when it is tapped again', () => {
    const one = form(field('sides', 'edges'));
    const first = tapped(one, begun(one), [0, 0], edge(1), PLAIN);
    const both = tapped(one, first, [0, 0], edge(2), PLAIN);
    expect(idsOf(both.inputs)).toEqual(['edge:0:1', 'edge:0:2']);
    expect(idsOf(tapped(one, both, [0, 0], edge(1), PLAIN).inputs)).toEqual(['edge:0:2']);
  });
  it('keeps only the last edge where one is wanted', () => {
    const one = form(field('side', 'edge'));
    const filled = tapped(one, tapped(one, begun(one), [0, 0], edge(1), PLAIN), [0, 0], edge(2), PLAIN);
    expect(idsOf(filled.inputs)).toEqual(['edge:0:2']);
  });
  it('says a place from the zero chosen, and goes on to the next place', () => {
    const two = form(field('from', 'spot'), field('to', 'spot'));
    const zero = { name: 'lower left of the part', at_mm: [5, 5] as [number, number] };
    const filled = tapped(two, begun(two), [25, -35], null, zero);
    expect(filled.inputs['from']).toEqual({ said: '20, 30 mm', from: [5, 5], zero: zero.name });
    expect(filled.active).toBe('to');
    expect(tapped(two, filled, [1, -2], null, PLAIN).inputs['to']).toBe('1, 2 mm');
  });
  it('is not changed by a tap on nothing it asks for', () => {
    const one = form(field('side', 'edge'));
    expect(tapped(one, begun(one), [1, 1], null, PLAIN)).toEqual(begun(one));
  });
});

it('edges have names, and those taken are ticked', () => {
  const scene = { box: [0, 0, 1, 1] as [number, number, number, number], items: [edge(3)], image: null };
  expect(edgeNames(scene, new Set(['edge:0:3']))[1]).toEqual(['edge:0:3', '✓ edge 3: 40 mm long, by 10, 20 mm']);
});

it('an edge or the last two places are measured', () => {
  const none = { edge: null, spots: [] };
  const two = measuredNext(measuredNext(measuredNext(none, [0, 0], null), [1, 1], null), [2, 2], null);
  expect(two.spots).toEqual([
    [1, 1],
    [2, 2],
  ]);
  expect(measuredNext(two, [0, 0], edge(1))).toEqual({ edge: edge(1), spots: [] });
});

describe('the end of an edge that moves', () => {
  const drawn = { ...edge(3), d: 'M8.06 -0.05L72.03 -0.02' };
  const scene = { box: [0, 0, 1, 1] as [number, number, number, number], items: [drawn], image: null };
  const filled = (moves: string, of: unknown) => ({ inputs: { edge: of, moves }, active: '' });
  it('is where its path begins or ends, on the plate', () => {
    expect(movingEnd(scene, filled('end', drawn.ref))).toEqual([72.03, 0.02]);
    expect(movingEnd(scene, filled('start', drawn.ref))).toEqual([8.06, 0.05]);
  });
  it('is nowhere before an edge is tapped, or where nothing moves', () => {
    expect(movingEnd(scene, filled('end', ''))).toBeNull();
    expect(movingEnd(scene, { inputs: { edge: drawn.ref }, active: '' })).toBeNull();
  });
});
