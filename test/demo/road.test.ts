import { describe, expect, test } from 'vitest';
import { endOf, perimeterRoad, ROAD_LENGTH_M } from '../../demo/generator/road.ts';

const road = perimeterRoad();

describe('the perimeter road', () => {
  test('closes after 3.2 km and one turn to the left', () => {
    const end = endOf(road.stretches);
    expect(road.lengthM).toBeCloseTo(ROAD_LENGTH_M, 6);
    expect(Math.hypot(end.x, end.y)).toBeLessThan(0.01);
    expect(end.heading).toBeCloseTo(2 * Math.PI, 9);
  });

  test('no stretch has a length below zero, and curvature never jumps', () => {
    road.stretches.forEach((stretch, i) => {
      const next = road.stretches[(i + 1) % road.stretches.length];
      expect(stretch.lengthM).toBeGreaterThan(0);
      expect(next?.from).toBeCloseTo(stretch.to, 12);
    });
  });

  test('has the places of the scenario, and at the speeds of the road no bend asks for more than 2 m/s²', () => {
    for (const name of ['pump-house bend', 'packing-yard crossing circle', 'lane between the rows']) {
      expect(road.startOf(name)).toBeGreaterThan(0);
    }
    for (let s = 0; s < ROAD_LENGTH_M; s += 1) {
      expect(road.speed(s) ** 2 * Math.abs(road.curvature(s))).toBeLessThan(2);
    }
  });

  test('repeats after one lap', () => {
    expect(road.curvature(1560 + ROAD_LENGTH_M)).toBeCloseTo(road.curvature(1560), 12);
    expect(road.curvature(1560 - ROAD_LENGTH_M)).toBeCloseTo(road.curvature(1560), 12);
  });
});
