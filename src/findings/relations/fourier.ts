/**
 * Correlation of two series at every circular shift at once, by the fast Fourier transform (radix 2, Cooley and Tukey
 * 1965). The values at large shifts show what unrelated series of just this autocorrelation reach by chance.
 */

/** The transform of a real series of `size` cells (a power of two), zero-padded. */
export interface Spectrum {
  real: Float64Array;
  imaginary: Float64Array;
}

export function spectrumOf(series: Float64Array, size: number): Spectrum {
  const real = new Float64Array(size);
  real.set(series.subarray(0, size));
  const imaginary = new Float64Array(size);
  transform(real, imaginary);
  return { real, imaginary };
}

/** Σ a[i] · b[i + k] for every shift k, circular; shift −1 stands at the end. */
export function correlateAll(a: Spectrum, b: Spectrum): Float64Array {
  const size = a.real.length;
  const real = new Float64Array(size);
  const imaginary = new Float64Array(size);
  for (let i = 0; i < size; i++) {
    const ar = a.real[i] as number;
    const ai = a.imaginary[i] as number;
    const br = b.real[i] as number;
    const bi = b.imaginary[i] as number;
    // conj(A) · B; the transform of its conjugate, conjugated, is the inverse transform times the size.
    real[i] = ar * br + ai * bi;
    imaginary[i] = -(ar * bi - ai * br);
  }
  transform(real, imaginary);
  for (let i = 0; i < size; i++) real[i] = (real[i] as number) / size;
  return real;
}

/** The least power of two that is not below `n`. */
export function powerOfTwo(n: number): number {
  let size = 1;
  while (size < n) size *= 2;
  return size;
}

function transform(re: Float64Array, im: Float64Array): void {
  const n = re.length;
  for (let i = 1, j = 0; i < n; i++) {
    let bit = n >> 1;
    for (; (j & bit) !== 0; bit >>= 1) j ^= bit;
    j ^= bit;
    if (i >= j) continue;
    const r = re[i] as number;
    re[i] = re[j] as number;
    re[j] = r;
    const m = im[i] as number;
    im[i] = im[j] as number;
    im[j] = m;
  }
  const { cosines, sines } = turnsOf(n);
  for (let half = 1; half < n; half *= 2) {
    const stride = n / (2 * half);
    for (let from = 0; from < n; from += 2 * half) {
      for (let k = 0; k < half; k++) {
        const c = cosines[k * stride] as number;
        const s = sines[k * stride] as number;
        const low = from + k;
        const high = low + half;
        const hr = re[high] as number;
        const hi = im[high] as number;
        const tr = hr * c - hi * s;
        const ti = hr * s + hi * c;
        re[high] = (re[low] as number) - tr;
        im[high] = (im[low] as number) - ti;
        re[low] = (re[low] as number) + tr;
        im[low] = (im[low] as number) + ti;
      }
    }
  }
}

let turns = { cosines: new Float64Array(0), sines: new Float64Array(0) };

/** Sines and cosines for a size; those of the last size are kept, for one capture has one. */
function turnsOf(n: number): typeof turns {
  if (turns.cosines.length === n / 2) return turns;
  turns = { cosines: new Float64Array(n / 2), sines: new Float64Array(n / 2) };
  for (let k = 0; k < n / 2; k++) {
    turns.cosines[k] = Math.cos((2 * Math.PI * k) / n);
    turns.sines[k] = -Math.sin((2 * Math.PI * k) / n);
  }
  return turns;
}
