/**
 * Reference channels: measured series recorded beside a capture. Readers (delimited text, GPX) give plain arrays and say
 * what they could not use, with its place; `align` finds how their clock runs against that of the capture.
 */
export { type Alignment, type AlignOptions, alignReference, type NoAlignment } from './align.ts';
export { readReferenceCsv } from './csv.ts';
export { readGpx } from './gpx.ts';
export type { ReferenceProblem, ReferenceRead, ReferenceSeries } from './model.ts';
export { columnHeader, unitFactor, unitNamed } from './units.ts';
