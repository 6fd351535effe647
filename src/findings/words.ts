/** Figures as they stand in the sentences of evidence. */

/** 12345 → "12,345". */
export function counted(n: number): string {
  return String(Math.round(n)).replace(/\B(?=(\d{3})+$)/g, ',');
}

/** "1 frame", "2,000 frames". */
export function several(n: number, one: string, many = `${one}s`): string {
  return `${counted(n)} ${n === 1 ? one : many}`;
}

/** 0x1D. */
export function hexByte(value: number): string {
  return `0x${value.toString(16).toUpperCase().padStart(2, '0')}`;
}
