/** Which payload bytes a check may cover, the likeliest first, each with what it costs to suppose it. */
import { type BitField, fieldBits } from '../can/bits.ts';

export interface Cover {
  /** Payload bytes in the order in which they enter; bits of the field itself count as zero. */
  bytes: number[];
  /** Constant bytes that enter after them; what they are cannot be told from the constant of the result. */
  suffix: number;
  /** Bits of surprise: −log2 of how likely this arrangement is before looking at any payload. */
  bits: number;
}

/** Payloads longer than this are tried with runs of bytes only, not with every subset. */
const SUBSETS_UP_TO = 8;

/** Bytes that a field fills, and those in which it has bits. */
export function bytesOfField(field: BitField): { full: number[]; touched: number[] } {
  const counts = new Map<number, number>();
  for (const bit of fieldBits(field)) counts.set(bit >> 3, (counts.get(bit >> 3) ?? 0) + 1);
  const touched = [...counts.keys()].sort((a, b) => a - b);
  return { full: touched.filter((byte) => counts.get(byte) === 8), touched };
}

/**
 * Arrangements for a check that stands in `field` of a payload of `length` bytes. Costs are our own judgement:
 * nearly all checks in use cover every other byte in rising order; some count their own byte as zero, some append bytes
 * of a data identifier. Runs and subsets of bytes are tried for a field of one byte, runs alone for whole bytes.
 */
export function coversOf(length: number, field: BitField): Cover[] {
  const { full, touched } = bytesOfField(field);
  const all = Array.from({ length }, (_, b) => b);
  const others = all.filter((b) => !full.includes(b));
  const apart = all.filter((b) => !touched.includes(b));
  const first = touched[0] as number;
  const last = touched[touched.length - 1] as number;
  const covers: Cover[] = [
    { bytes: others, suffix: 0, bits: 1 },
    { bytes: all, suffix: 0, bits: 3 },
    { bytes: others.filter((b) => b < first), suffix: 0, bits: 3 },
    { bytes: others.filter((b) => b > last), suffix: 0, bits: 3 },
    { bytes: others, suffix: 1, bits: 4 },
    { bytes: others, suffix: 2, bits: 5 },
    { bytes: all, suffix: 1, bits: 7 },
    { bytes: all, suffix: 2, bits: 8 },
    { bytes: others.slice().reverse(), suffix: 0, bits: 5 },
    { bytes: others.slice().reverse(), suffix: 1, bits: 8 },
  ];
  if (apart.length < others.length) {
    covers.push({ bytes: apart, suffix: 0, bits: 3 }, { bytes: apart.slice().reverse(), suffix: 0, bits: 7 });
    covers.push({ bytes: apart, suffix: 1, bits: 6 }, { bytes: apart, suffix: 2, bits: 7 });
    covers.push({ bytes: others.filter((b) => b <= last), suffix: 0, bits: 5 });
    covers.push({ bytes: others.filter((b) => b >= first), suffix: 0, bits: 5 });
  }
  const wholeBytes = full.length === touched.length;
  const runs = Math.ceil(Math.log2((others.length * (others.length + 1)) / 2 + 1)) + 1;
  for (let from = 0; wholeBytes && from < others.length; from++) {
    for (let to = from + 1; to <= others.length; to++) {
      covers.push({ bytes: others.slice(from, to), suffix: 0, bits: runs });
    }
  }
  if (wholeBytes && full.length === 1 && length <= SUBSETS_UP_TO) {
    for (let set = 1; set < 2 ** others.length; set++) {
      covers.push({ bytes: others.filter((_, k) => set & (1 << k)), suffix: 0, bits: others.length + 2 });
    }
  }
  covers.sort((a, b) => a.bits - b.bits);
  const seen = new Set<string>();
  return covers.filter(({ bytes, suffix }) => {
    const key = `${bytes.join()} ${suffix}`;
    if (bytes.every((b) => full.includes(b)) || seen.has(key)) return false;
    seen.add(key);
    return true;
  });
}
