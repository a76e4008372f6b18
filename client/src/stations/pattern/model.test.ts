import { describe, expect, it } from 'vitest';
import type { Item } from '../../api-types';
import { bridgeMoved, cornerMoved, smudgeAt, strokeOf } from './model';

const bridge: Item = {
  d: '',
  kind: 'corner',
  id: 'grip:A1',
  title: '',
  spot: [0, 0],
  label: '',
  locked: false,
};

describe('a hand on the picture of a pattern', () => {
  it('says places on the plate, where y goes up', () => {
    expect(smudgeAt([10, -20])).toEqual({ at_mm: [10, 20], radius_mm: 12 });
    expect(cornerMoved([1.23456, -2], [3, 4])).toEqual({ at_mm: [1.235, 2], to_mm: [3, -4] });
  });
  it('draws strokes as parts of the picture, wherever it lies', () => {
    const image = { file: '', x: 100, y: -50, width: 200, height: 80 };
    expect(strokeOf(image, [100, -50], [300, 30], false)).toEqual({
      points: [
        [0, 0],
        [1, 0.4],
      ],
      width: 0.02,
      metal: false,
    });
  });
  it('moves one bridge and leaves the others', () => {
    expect(bridgeMoved('', bridge, [1, -2])).toBe('A1: 1.00 2.00');
    expect(bridgeMoved('A1: 9 9; A10: 5 5', bridge, [1, 2])).toBe('A10: 5 5; A1: 1.00 -2.00');
  });
});
