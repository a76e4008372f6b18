import { expect, it } from 'vitest';
import type { JobLine } from '../api-types';
import { holds, tells } from './jobs';

const part = (name: string) => ({
  id: name,
  name,
  count: 2,
  quantity: 1,
  pairs: true,
  size: '300 × 50 mm',
  metal: '6 mm mild steel',
});
const job: JobLine = {
  id: 'a',
  number: 1,
  name: 'North gate',
  customer: 'Hollow Creek',
  at: '2026-01-01T10:00:00',
  parts: 1,
  done: 0,
  steps: 9,
  verdict: null,
  drawn: false,
  holds: [part('strap')],
};

it('a job is found by what it tells: name, customer, parts, sizes, metal', () => {
  expect(['gate', 'HOLLOW', 'strap', '300', ' mild ', ''].map((w) => tells(job, w))).toEqual(Array(6).fill(true));
  expect(tells(job, 'gusset')).toBe(false);
});

it('a job says its first parts', () => {
  expect(holds(job)).toBe('2 × strap, 300 × 50 mm');
  const many = { ...job, holds: ['a', 'b', 'c', 'd', 'e'].map(part) };
  expect(holds(many)).toMatch(/c, 300 × 50 mm and 2 more$/);
});
