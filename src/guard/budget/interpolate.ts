/** A table of points, read between them. */

/** Linear between points, held before the first and after the last. */
export function tableAt(points: readonly (readonly [number, number])[], x: number): number {
  const after = points.findIndex((p) => p[0] > x);
  if (after === 0) return points[0]![1];
  if (after < 0) return points[points.length - 1]![1];
  const [x0, y0] = points[after - 1]!;
  const [x1, y1] = points[after]!;
  return y0 + ((x - x0) / (x1 - x0)) * (y1 - y0);
}
