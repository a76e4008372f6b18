// Pan and zoom of a drawing: a scale and a shift from picture millimetres to screen pixels.
export interface View {
  scale: number;
  x: number;
  y: number;
}

export interface Size {
  width: number;
  height: number;
}

export type Box = readonly [number, number, number, number];

/** The view that shows a whole box in the middle of a screen. */
export function fitted(box: Box, screen: Size): View {
  const scale = Math.min(screen.width / Math.max(box[2], 1e-6), screen.height / Math.max(box[3], 1e-6));
  return {
    scale,
    x: (screen.width - box[2] * scale) / 2 - box[0] * scale,
    y: (screen.height - box[3] * scale) / 2 - box[1] * scale,
  };
}

/** Zoom by a factor about a place on the screen. */
export function zoomed(view: View, factor: number, px: number, py: number): View {
  const scale = Math.min(Math.max(view.scale * factor, 1e-3), 2000);
  const real = scale / view.scale;
  return { scale, x: px - (px - view.x) * real, y: py - (py - view.y) * real };
}

export function moved(view: View, dx: number, dy: number): View {
  return { ...view, x: view.x + dx, y: view.y + dy };
}

/** The place in picture millimetres under a place on the screen. */
export function under(view: View, px: number, py: number): [number, number] {
  return [(px - view.x) / view.scale, (py - view.y) / view.scale];
}

/** Two fingers: zoom by their distance, move by their middle. */
export function pinched(
  view: View,
  before: readonly [number, number, number],
  after: readonly [number, number, number],
): View {
  const turned = zoomed(view, after[2] / Math.max(before[2], 1), before[0], before[1]);
  return moved(turned, after[0] - before[0], after[1] - before[1]);
}

/** Whether two boxes show the same thing, grown or shrunk a little: they overlap in more than half of both together. */
export function alike(a: Box, b: Box): boolean {
  const over = (at: 0 | 1): number =>
    Math.max(0, Math.min(a[at] + a[at + 2]!, b[at] + b[at + 2]!) - Math.max(a[at], b[at]));
  const common = over(0) * over(1);
  return common > (a[2] * a[3] + b[2] * b[3] - common) / 2;
}
