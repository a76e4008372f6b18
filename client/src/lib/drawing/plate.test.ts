import { expect, test } from 'vitest';
import { toPicture, toPlate } from './plate';

test('y is turned and both are put on the grid', () => {
  expect(toPlate([12.3456, -7.891])).toEqual([12.35, 7.89]);
  expect(toPlate([12.3456, -7.891], 1)).toEqual([12, 8]);
  expect(toPlate([0, 0])).toEqual([0, 0]);
});

test('a place comes back to where it was on the picture', () => {
  expect(toPicture(toPlate([12.34, -7.89]))).toEqual([12.34, -7.89]);
  expect(toPicture([0, 0])).toEqual([0, 0]);
});
