/**
 * The host car as a moving body: the figures of `build.yaml`, kinematic and linear single-track model with a fixed-step
 * integrator, what the car does in a steady turn, and how far it goes before it stands. SI units, angles in radians.
 */
export * from './lamps.ts';
export type * from './model.ts';
export * from './schema.ts';
export * from './singleTrack.ts';
export * from './steady.ts';
export * from './stopping.ts';
