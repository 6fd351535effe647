/** Figures of the van Wagtail, invented: the same as in build.yaml, plus what only the making of its traffic needs. */
import type { Host } from '../../src/car/model.ts';

export const WAGTAIL: Host = {
  name: 'Wagtail',
  massKg: 2050,
  yawInertiaKgm2: 4200,
  wheelbaseM: 3.2,
  cgToFrontM: 1.6,
  frontStiffnessNPerRad: 105_000,
  rearStiffnessNPerRad: 128_000,
  steeringRatio: 17,
  widthM: 1.98,
};

export const TRACK_M = 1.72;
/** Brake pressure per deceleration, bar per m/s², and the deceleration that the idling engine gives by itself. */
export const BRAKE_BAR_PER_MPS2 = 17;
export const COAST_MPS2 = 0.35;
/** Acceleration at full accelerator in the gears that this road asks for, m/s². */
export const FULL_ACCELERATION_MPS2 = 2.6;
/** Engine revolutions per minute for one m/s, gears 1 to 5, and the speed at which the next one is taken. */
export const GEARS = [
  { rpmPerMps: 520, upToMps: 4.2 },
  { rpmPerMps: 300, upToMps: 7.4 },
  { rpmPerMps: 195, upToMps: 11 },
  { rpmPerMps: 140, upToMps: 16 },
  { rpmPerMps: 110, upToMps: Number.POSITIVE_INFINITY },
] as const;
export const IDLE_RPM = 790;
