/** How far a car goes before it stands: by the rule of thumb of the Highway Code, and by physics. */

export interface Stopping {
  /** Way while the driver reacts. */
  thinkingM: number;
  brakingM: number;
  totalM: number;
}

/**
 * The figures that the UK Highway Code, rule 126, prints for a speed in miles per hour: one foot per mph, then v²/20
 * feet. Each part is rounded to whole metres before they are added, as in the printed table.
 */
export function highwayCodeStopping(speedMph: number): Stopping {
  const thinkingM = Math.round(speedMph * METRES_PER_FOOT);
  const brakingM = Math.round((speedMph ** 2 / 20) * METRES_PER_FOOT);
  return { thinkingM, brakingM, totalM: thinkingM + brakingM };
}

/** v·t, then v²/(2a): reaction time in seconds, constant deceleration in m/s² (> 0), on the level. */
export function stoppingDistance(
  speedMps: number,
  reactionTimeS: number,
  decelerationMps2: number,
): Stopping {
  const thinkingM = speedMps * reactionTimeS;
  const brakingM = speedMps ** 2 / (2 * decelerationMps2);
  return { thinkingM, brakingM, totalM: thinkingM + brakingM };
}

const METRES_PER_FOOT = 0.3048;
