import { expect, test } from 'vitest';
import { same } from './same';

test('the order of keys says nothing, the order of a list does', () => {
  expect(same({ a: 1, b: { c: [1, 2] } }, { b: { c: [1, 2] }, a: 1 })).toBe(true);
  expect(same([1, 2], [2, 1])).toBe(false);
  expect(same({ a: 1 }, { a: 1, b: undefined })).toBe(true);
});

test('values of another kind differ', () => {
  expect(same({ a: 1 }, { a: '1' })).toBe(false);
  expect(same([], {})).toBe(false);
  expect(same(null, {})).toBe(false);
  expect(same({ a: 1 }, { a: 1, b: null })).toBe(false);
});
