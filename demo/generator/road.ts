/**
 * The orchard's perimeter road, invented: a closed loop of 3.2 km, driven anticlockwise, as curvature over distance.
 * Four corners with straights between them, sweeps on the east side, the pump-house bend in the north-east, the unmarked
 * lane between the rows and the packing-yard crossing circle on the north side.
 */

/** One stretch whose curvature runs from `from` to `to` (1/m, left positive) in proportion to distance. */
export interface Stretch {
  name: string;
  lengthM: number;
  from: number;
  to: number;
  /** What the co-operative allows and a driver keeps to, m/s. */
  speedMps: number;
}

export interface Road {
  stretches: readonly Stretch[];
  lengthM: number;
  /** Where a stretch of this name first starts, metres from the yard gate. */
  startOf(name: string): number;
  /** Curvature at a distance from the yard gate, 1/m; the loop repeats. */
  curvature(s: number): number;
  speed(s: number): number;
}

export const ROAD_LENGTH_M = 3200;

/** Builds the road; the lengths of the straights follow from the loop having to close at 3,200 m. */
export function perimeterRoad(): Road {
  const stretches = closed();
  const starts: number[] = [];
  let lengthM = 0;
  for (const stretch of stretches) {
    starts.push(lengthM);
    lengthM += stretch.lengthM;
  }
  const find = (s: number): [Stretch, number] => {
    const at = ((s % lengthM) + lengthM) % lengthM;
    let low = 0;
    let high = stretches.length - 1;
    while (low < high) {
      const middle = (low + high + 1) >> 1;
      if ((starts[middle] as number) <= at) low = middle;
      else high = middle - 1;
    }
    return [stretches[low] as Stretch, at - (starts[low] as number)];
  };
  return {
    stretches,
    lengthM,
    startOf: (name) => starts[stretches.findIndex((stretch) => stretch.name === name)] as number,
    curvature: (s) => {
      const [stretch, along] = find(s);
      return stretch.from + ((stretch.to - stretch.from) * along) / stretch.lengthM;
    },
    speed: (s) => find(s)[0].speedMps,
  };
}

/** Where the road ends when it starts at the origin heading along x: metres and radians. */
export function endOf(stretches: readonly Stretch[]): { x: number; y: number; heading: number } {
  let [x, y, heading] = [0, 0, 0];
  for (const { lengthM, from, to } of stretches) {
    // Midpoint steps of about 0.1 m; the error over the loop is below a millimetre.
    const n = Math.max(1, Math.ceil(lengthM / 0.1));
    const ds = lengthM / n;
    for (let i = 0; i < n; i++) {
      const k0 = from + ((to - from) * i) / n;
      const k1 = from + ((to - from) * (i + 1)) / n;
      const middle = heading + (ds / 2) * ((3 * k0 + k1) / 4);
      x += ds * Math.cos(middle);
      y += ds * Math.sin(middle);
      heading += (ds * (k0 + k1)) / 2;
    }
  }
  return { x, y, heading };
}

const DEGREES = Math.PI / 180;

/** A bend with easing in and out: `turn` in degrees (left positive), radius and easing length in metres. */
function bend(name: string, turn: number, radiusM: number, easeM: number, speedMps: number): Stretch[] {
  const k = Math.sign(turn) / radiusM;
  // Each easing turns the road by half of what the same length of arc would.
  const arcM = Math.abs(turn) * DEGREES * radiusM - easeM;
  return [
    { name, lengthM: easeM, from: 0, to: k, speedMps },
    { name, lengthM: arcM, from: k, to: k, speedMps },
    { name, lengthM: easeM, from: k, to: 0, speedMps },
  ];
}

function straight(name: string, lengthM: number, speedMps: number): Stretch {
  return { name, lengthM, from: 0, to: 0, speedMps };
}

/** The loop with straights of given lengths on the south, east, north and west side. */
function loop(south: number, east: number, north: number, west: number): Stretch[] {
  return [
    straight('yard gate', south, 12.5),
    ...bend('dam corner', 90, 60, 25, 9),
    straight('east side', east, 12),
    ...bend('east sweeps', 20, 180, 20, 11),
    ...bend('east sweeps', -20, 180, 20, 11),
    straight('east side', 30, 11.5),
    ...bend('east sweeps', -12, 220, 20, 11.5),
    ...bend('east sweeps', 12, 220, 20, 11.5),
    straight('east side', 40, 11.5),
    ...bend('pump-house bend', 90, 24, 14, 6),
    straight('lane between the rows', 60, 9),
    ...bend('lane between the rows', -9, 130, 12, 9.5),
    ...bend('lane between the rows', 18, 130, 12, 9.5),
    ...bend('lane between the rows', -9, 130, 12, 9.5),
    straight('lane between the rows', north, 9.5),
    ...bend('packing-yard crossing circle', -32, 18, 6, 4.5),
    ...bend('packing-yard crossing circle', 64, 15, 6, 4.5),
    ...bend('packing-yard crossing circle', -32, 18, 6, 4.5),
    straight('north side', 60, 10),
    ...bend('nursery corner', 90, 45, 20, 8),
    straight('west side', west, 13),
    ...bend('gate corner', 90, 40, 20, 7.5),
  ];
}

/**
 * Lengths of the four straights: two equations from closing in x and y, one from the length of the loop, and the north
 * side as chosen. The corners are right angles, so the end moves by exactly what a straight is longer.
 */
function closed(): Stretch[] {
  const north = 120;
  const bare = loop(0, 0, north, 0);
  const end = endOf(bare);
  const bareM = bare.reduce((sum, stretch) => sum + stretch.lengthM, 0);
  const south = -end.x;
  // east − west closes y, east + west + south fills up the length.
  const both = ROAD_LENGTH_M - bareM - south;
  const east = (both - end.y) / 2;
  return loop(south, east, north, both - east).filter((stretch) => stretch.lengthM > 0);
}
