import { describe, expect, it } from 'vitest';
import type { LayoutEntry, Item } from '../../api-types';
import { testField } from '../../lib/testfield';
import {
  asSaid,
  choose,
  dragged,
  indexOf,
  ownSaid,
  piecesOf,
  placedAnew,
  skewOn,
  touchedOn,
  turned,
} from './model';

const item = (more: Partial<Item>): Item => ({
  d: 'M0 0',
  kind: 'part',
  id: 'placed:3',
  title: '#4',
  spot: [110, -60],
  label: '4',
  locked: false,
  pose: { x_mm: 100, y_mm: 50, angle_rad: 0, mirrored: false, part: 1, copy: 2, locked: false },
  ...more,
});
const scene = (...items: Item[]) => ({
  box: [0, 0, 1, 1] as [number, number, number, number],
  items,
});
const entry = (): LayoutEntry => ({
  between: '',
  edge: '',
  keepout: '10 mm',
  seconds: 2,
  steps: null,
  seed: 1,
  turns: 'free',
  goal: 'metal',
  repeat_sheets: false,
  common: false,
  cut_off: false,
  heat: false,
  slats: '',
  slats_run: 'y',
  first_slat: '',
  leeway: '',
  go_on: '',
  longer: 0,
  on: [],
  skews: {},
  own: [],
  placements: [],
  by_hand: false,
  skew: { drawn_mm: [], touched_mm: [] },
});

describe('placed pieces', () => {
  it('are what lies somewhere, nothing else on the picture', () => {
    const found = piecesOf(
      scene(item({}), { d: '', kind: 'plate', id: 'plate', title: '' }, item({ id: 'keepout:0' })),
    );
    expect(found.map(indexOf)).toEqual([3]);
    expect(piecesOf(null)).toEqual([]);
  });
  it('on other plates stay as they lie when one is moved', () => {
    const lying = { part: 'a', x_mm: 1, y_mm: 2, angle_rad: 0, mirrored: false, locked: false };
    const placed = [1, 1, 2, 2].map((plate, n) => ({ ...lying, plate, copy_number: n + 1 }));
    const made = placedAnew(placed, 2, 1, { x_mm: 9, locked: true });
    expect(made.slice(0, 3)).toEqual(placed.slice(0, 3));
    expect(made[3]).toEqual({ ...lying, plate: 2, copy_number: 4, x_mm: 9, locked: true });
  });
  it('lie on a plate touched by itself', () => {
    const l = entry();
    skewOn(l, 2).drawn_mm.push([1, 2]);
    expect(touchedOn(l, 2).drawn_mm).toEqual([[1, 2]]);
    expect(touchedOn(l, 1).drawn_mm).toEqual([]);
    expect(touchedOn(l, 3).drawn_mm).toEqual([]);
  });
  it('go where they are dragged, up on the plate being down in numbers on the picture', () => {
    const [piece] = piecesOf(scene(item({})));
    expect(piece && dragged(piece.pose, [0, 0], [5, -7])).toEqual({ x_mm: 105, y_mm: 57, angle_rad: 0 });
  });
  it('turn about their middle', () => {
    const [piece] = piecesOf(scene(item({})));
    const lies = piece ? turned(piece, 90) : { x_mm: 0, y_mm: 0, angle_rad: 0 };
    expect(lies.x_mm).toBeCloseTo(120);
    expect(lies.y_mm).toBeCloseTo(50);
    expect(lies.angle_rad).toBeCloseTo(Math.PI / 2);
  });
});

describe('choices', () => {
  it('show a time with its unit, and as it was typed', () => {
    expect(asSaid(entry())['seconds']).toBe('2 s');
    expect(asSaid({ ...entry(), seconds: '1 min' })['seconds']).toBe('1 min');
  });
  it('about one part stand beside what is known of it', () => {
    const made = entry();
    choose(made, 'strap', { turns: 'grain' });
    choose(made, 'strap', { clear: '15 mm' });
    expect(made.own).toEqual([{ part: 'strap', turns: 'grain', face_down: false, clear: '15 mm' }]);
  });
  it('of yes and no are kept as such', () => {
    const field = testField('face_down', 'flag');
    expect(ownSaid(field, 'yes')).toEqual({ face_down: true });
    expect(ownSaid(field, '')).toEqual({ face_down: false });
    expect(ownSaid({ ...field, name: 'clear', kind: 'length' }, '4 mm')).toEqual({ clear: '4 mm' });
  });
});
