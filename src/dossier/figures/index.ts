/**
 * Figures that pages and dossier share: payload strips, the drawing of units and buses, limits over budget, traces, series.
 * Each takes its data first and options with a `document` last, and returns an SVG element; text is its `outerHTML`.
 * Tones are CSS variables of the page around it, with black on white where there are none.
 */
export { type BuildDrawingData, buildDrawing } from './buildDrawing.ts';
export { type BusLoadData, busLoad } from './busLoad.ts';
export { type HandoverData, handover } from './handover.ts';
export { type LimitOverBudgetData, limitCrossings, limitOverBudget } from './limitOverBudget.ts';
export { type OverlaidCurve, type OverlaidData, overlaid } from './overlaid.ts';
export type { BitLayout } from './payloadBits.ts';
export { type PayloadFingerprintData, payloadFingerprint } from './payloadFingerprint.ts';
export {
  type PayloadStripData,
  type PayloadStripOptions,
  payloadStrip,
  type StripField,
} from './payloadStrip.ts';
export { type PeriodMarkData, periodMark, periodScale } from './periodMark.ts';
export {
  type RelationBranch,
  type RelationDrawingData,
  type RelationPlate,
  relationDrawing,
} from './relationDrawing.ts';
export { type SeriesData, series } from './series.ts';
export type { FigureOptions } from './svg.ts';
export { movingSeries, type TraceData, type TraceOptions, trace } from './trace.ts';
