/** Numbers that look random and are the same for the same seed and name on every machine. */
export interface Random {
  /** 0 … 1, 1 excluded. */
  next(): number;
  /** Normal distribution, mean 0, standard deviation 1. */
  normal(): number;
}

/** A stream of its own for each name, so that one more unit or message does not change what the others draw. */
export function randomFor(seed: number, name: string): Random {
  let a = seed >>> 0;
  for (let i = 0; i < name.length; i++) a = Math.imul(a ^ name.charCodeAt(i), 0x9e37_79b1) >>> 0;
  let spare = Number.NaN;
  const next = () => {
    // "mulberry32", a public-domain 32-bit generator: a counter put through two rounds of multiply and shift.
    a = (a + 0x6d2b_79f5) >>> 0;
    let t = Math.imul(a ^ (a >>> 15), a | 1);
    t ^= t + Math.imul(t ^ (t >>> 7), t | 61);
    return ((t ^ (t >>> 14)) >>> 0) / 2 ** 32;
  };
  const normal = () => {
    if (!Number.isNaN(spare)) {
      const value = spare;
      spare = Number.NaN;
      return value;
    }
    // Box and Muller 1958; 1 − u keeps the logarithm away from 0.
    const radius = Math.sqrt(-2 * Math.log(1 - next()));
    const angle = 2 * Math.PI * next();
    spare = radius * Math.sin(angle);
    return radius * Math.cos(angle);
  };
  return { next, normal };
}
