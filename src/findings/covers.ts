/** Which payload bytes a check may cover, the likeliest first, each with what it costs to suppose it. */

export interface Cover {
  /** Payload bytes in the order in which they enter; the byte of the field itself counts as zero. */
  bytes: number[];
  /** Constant bytes that enter after them; what they are cannot be told from the constant of the result. */
  suffix: number;
  /** Bits of surprise: −log2 of how likely this arrangement is before looking at any payload. */
  bits: number;
}

/** Payloads longer than this are tried with runs of bytes only, not with every subset. */
const SUBSETS_UP_TO = 8;

/**
 * Arrangements for a check that stands in byte `field` of a payload of `length` bytes. Costs are our own judgement:
 * nearly all checks in use cover every other byte in rising order; some count their own byte as zero, some append bytes
 * of a data identifier.
 */
export function coversOf(length: number, field: number): Cover[] {
  const all = Array.from({ length }, (_, b) => b);
  const others = all.filter((b) => b !== field);
  const covers: Cover[] = [
    { bytes: others, suffix: 0, bits: 1 },
    { bytes: all, suffix: 0, bits: 3 },
    { bytes: others.filter((b) => b < field), suffix: 0, bits: 3 },
    { bytes: others.filter((b) => b > field), suffix: 0, bits: 3 },
    { bytes: others, suffix: 1, bits: 4 },
    { bytes: others, suffix: 2, bits: 5 },
    { bytes: all, suffix: 1, bits: 7 },
    { bytes: all, suffix: 2, bits: 8 },
    { bytes: others.slice().reverse(), suffix: 0, bits: 5 },
    { bytes: others.slice().reverse(), suffix: 1, bits: 8 },
  ];
  const runs = Math.ceil(Math.log2((others.length * (others.length + 1)) / 2 + 1)) + 1;
  for (let from = 0; from < others.length; from++) {
    for (let to = from + 1; to <= others.length; to++) {
      covers.push({ bytes: others.slice(from, to), suffix: 0, bits: runs });
    }
  }
  if (length <= SUBSETS_UP_TO) {
    for (let set = 1; set < 2 ** others.length; set++) {
      covers.push({ bytes: others.filter((_, k) => set & (1 << k)), suffix: 0, bits: others.length + 2 });
    }
  }
  covers.sort((a, b) => a.bits - b.bits);
  const seen = new Set<string>();
  return covers.filter(({ bytes, suffix }) => {
    const key = `${bytes.join()} ${suffix}`;
    if (bytes.every((b) => b === field) || seen.has(key)) return false;
    seen.add(key);
    return true;
  });
}

/** Bits of surprise of a check standing in byte `field`: the last byte is usual, then the first. */
export function placeBits(length: number, field: number): number {
  if (field === length - 1) return 1;
  return field === 0 ? 2 : 3;
}
