/**
 * Factor, offset and delay of a signal from a reference channel recorded beside the capture: `fitScale`. Channels are plain
 * arrays on the clock of the capture; readers and clock alignment are elsewhere.
 */
export { type Follower, type Followers, followersOf, withScales } from './against.ts';
export { fitScale, type ScaleOptions } from './fit.ts';
export type { Bounded, RawSeries, ReferenceChannel, ScaleFit } from './model.ts';
export { type Plausible, plausibleFactor } from './plausible.ts';
