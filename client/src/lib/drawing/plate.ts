// Between the picture, where y goes down, and the plate, where it goes up: the one place where y is turned.
export type Spot = [number, number];

const turned = (v: number): number => -v + 0;

/** A place on the picture as a place on the plate [mm], on a grid finer than any table unless another is asked for. */
export function toPlate(at: Readonly<Spot>, grid = 0.01): Spot {
  const on = (v: number): number => Math.round(Math.round(v / grid) * grid * 1000) / 1000 + 0;
  return [on(at[0]), on(turned(at[1]))];
}

/** A place on the plate as a place on the picture [mm]. */
export const toPicture = (at: Readonly<Spot>): Spot => [at[0], turned(at[1])];
