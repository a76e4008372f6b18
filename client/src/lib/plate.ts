// Between the picture, where y goes down, and the plate, where it goes up: the one place where y is turned.
export type Spot = [number, number];

/** A place on the picture as a place on the plate [mm], on a grid finer than any table unless another is asked for. */
export function toPlate(at: readonly [number, number], grid = 0.01): Spot {
  const on = (v: number): number => Math.round(Math.round(v / grid) * grid * 1000) / 1000 + 0;
  return [on(at[0]), on(-at[1])];
}
