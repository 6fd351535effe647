/** The code for values that hop between few levels, as many a quantised or idling signal does. */
import { ClassCode, LN2 } from './classCode.ts';
import type { Series } from './codeLengths.ts';
import type { GammaTables } from './logGamma.ts';

const code = new ClassCode();

/** Open-addressed counts of (value before, value). */
let pairKeys = new Int32Array(8192);
let pairCounts = new Int32Array(8192);

/**
 * Order-1 memory of levels, escape method C (Moffat 1990): a successor seen before is told by its count, a new one by an
 * escape and its residual to the last value. Made for values that hop between few levels.
 */
export function levelsCost(s: Series, t: GammaTables, sign: 'unsigned' | 'signed'): number {
  const n = s.values.length;
  let slots = pairKeys.length;
  while (slots < 4 * n) slots *= 2;
  if (slots !== pairKeys.length) {
    pairKeys = new Int32Array(slots);
    pairCounts = new Int32Array(slots);
  }
  pairKeys.fill(-1);
  const mask = slots - 1;
  const total = new Uint32Array(s.distinct);
  const successors = new Uint32Array(s.distinct);
  code.clear();
  const size = 2 ** s.width;
  const fold = sign === 'signed' ? size / 2 : size;
  let cost = 0;
  for (let i = 0; i < n; i++) {
    if (s.begins[i]) {
      code.restart();
      cost += s.active * LN2;
      continue;
    }
    const from = s.ranks[i - 1] as number;
    const to = s.ranks[i] as number;
    const key = from * 65536 + to;
    let at = Math.imul(key ^ (key >>> 15), 0x9e37_79b1) & mask;
    while (pairKeys[at] !== -1 && pairKeys[at] !== (key | 0)) at = (at + 1) & mask;
    const sum = total[from] as number;
    const kinds = successors[from] as number;
    const raw = s.values[i] as number;
    const was = s.values[i - 1] as number;
    const r = (raw >= fold ? raw - size : raw) - (was >= fold ? was - size : was);
    if (pairKeys[at] === -1) {
      pairKeys[at] = key | 0;
      pairCounts[at] = 1;
      successors[from] = kinds + 1;
      if (sum > 0) cost += (t.log[sum + kinds] as number) - (t.log[kinds] as number);
      code.residual(r);
    } else {
      const count = pairCounts[at] as number;
      cost += (t.log[sum + kinds] as number) - (t.log[count] as number);
      pairCounts[at] = count + 1;
      code.passed(r);
    }
    total[from] = sum + 1;
  }
  return cost + code.cost(t);
}
