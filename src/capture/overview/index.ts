/**
 * A capture over time, at any width of view: frames per second of each bus, the values of one field, and single frames.
 * Built once in one pass over the typed arrays; a view then costs as much as it has pixels, however long the recording.
 */
export { FieldOverTime, type FieldQuestion, type FieldView } from './field.ts';
export { type FrameWindow, framesIn } from './frames.ts';
export { boundOf, timeOrder } from './order.ts';
export { type Column, packed, unpacked } from './packed.ts';
export { RateOverTime, type RateView } from './rate.ts';
