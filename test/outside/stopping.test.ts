/** Stopping distances against the table that the UK Highway Code prints. */
import { describe, expect, test } from 'vitest';
import { highwayCodeStopping, stoppingDistance } from '../../src/car/stopping.ts';

/** UK Highway Code, rule 126: mph, thinking m, braking m, total m. */
const RULE_126 = [
  [20, 6, 6, 12],
  [30, 9, 14, 23],
  [40, 12, 24, 36],
  [50, 15, 38, 53],
  [60, 18, 55, 73],
  [70, 21, 75, 96],
] as const;

describe('UK Highway Code, rule 126', () => {
  test.each(RULE_126)(
    'at %i mph: %i m thinking, %i m braking, %i m in all',
    (mph, thinkingM, brakingM, totalM) => {
      expect(highwayCodeStopping(mph)).toEqual({ thinkingM, brakingM, totalM });
    },
  );

  test('parts are rounded before they are added: at 40 mph the exact 36.58 m are printed as 36', () => {
    const feet = 40 + 40 ** 2 / 20;
    expect(feet * 0.3048).toBeCloseTo(36.58, 2);
    expect(highwayCodeStopping(40).totalM).toBe(36);
  });

  test('its constants are 0.6818 s and 6.557 m/s² (computed from one foot per mph and v²/20 feet)', () => {
    for (const [mph] of RULE_126) {
      const feet = mph + mph ** 2 / 20;
      const { totalM } = stoppingDistance(
        mph * 0.44704,
        0.3048 / 0.44704,
        (20 * 0.44704 ** 2) / (2 * 0.3048),
      );
      expect(totalM).toBeCloseTo(feet * 0.3048, 9);
    }
    expect(0.3048 / 0.44704).toBeCloseTo(0.6818, 4);
    expect((20 * 0.44704 ** 2) / (2 * 0.3048)).toBeCloseTo(6.557, 3);
  });
});

test('2.5 s and 3.4 m/s² at 130 km/h give 282.0 m (AASHTO Green Book §3.2.2, unrounded constants)', () => {
  expect(stoppingDistance(130 / 3.6, 2.5, 3.4).totalM).toBeCloseTo(282.0, 1);
});
