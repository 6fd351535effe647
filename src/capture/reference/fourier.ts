/** Discrete Fourier transform of power-of-two length in place (Cooley and Tukey 1965), and correlation by way of it. */

/** Forward transform of re + i·im; lengths equal and a power of two. */
export function transform(re: Float64Array, im: Float64Array): void {
  const n = re.length;
  for (let i = 1, j = 0; i < n; i++) {
    let bit = n >> 1;
    for (; j & bit; bit >>= 1) j ^= bit;
    j ^= bit;
    if (i >= j) continue;
    [re[i], re[j]] = [re[j]!, re[i]!];
    [im[i], im[j]] = [im[j]!, im[i]!];
  }
  const cos = new Float64Array(n >> 1);
  const sin = new Float64Array(n >> 1);
  for (let k = 0; k < n >> 1; k++) {
    cos[k] = Math.cos((2 * Math.PI * k) / n);
    sin[k] = -Math.sin((2 * Math.PI * k) / n);
  }
  for (let size = 2; size <= n; size *= 2) {
    const half = size >> 1;
    const stride = n / size;
    for (let from = 0; from < n; from += size) {
      for (let k = 0; k < half; k++) {
        const [a, b] = [from + k, from + k + half];
        const [c, s] = [cos[k * stride]!, sin[k * stride]!];
        const x = re[b]! * c - im[b]! * s;
        const y = re[b]! * s + im[b]! * c;
        re[b] = re[a]! - x;
        im[b] = im[a]! - y;
        re[a] = re[a]! + x;
        im[a] = im[a]! + y;
      }
    }
  }
}

export interface Spectrum {
  re: Float64Array;
  im: Float64Array;
}

/** Spectrum of a real series padded with zeros to `length`. */
export function spectrum(series: Float64Array, length: number): Spectrum {
  const re = new Float64Array(length);
  re.set(series);
  const im = new Float64Array(length);
  transform(re, im);
  return { re, im };
}

/**
 * Σ a[t]·b[t + k] for two pairs of real series at once; entry k at index k, negative k from the end.
 * All spectra of one length.
 */
export function correlatePairs(
  a1: Spectrum,
  b1: Spectrum,
  a2: Spectrum,
  b2: Spectrum,
): [Float64Array, Float64Array] {
  const n = a1.re.length;
  const re = new Float64Array(n);
  const im = new Float64Array(n);
  for (let k = 0; k < n; k++) {
    const x = a1.re[k]! * b1.re[k]! + a1.im[k]! * b1.im[k]!;
    const y = a1.re[k]! * b1.im[k]! - a1.im[k]! * b1.re[k]!;
    const u = a2.re[k]! * b2.re[k]! + a2.im[k]! * b2.im[k]!;
    const v = a2.re[k]! * b2.im[k]! - a2.im[k]! * b2.re[k]!;
    // Real results: the first in the real part, the second in the imaginary one. Conjugated for the way back.
    re[k] = x - v;
    im[k] = -(y + u);
  }
  transform(re, im);
  for (let k = 0; k < n; k++) {
    re[k] = re[k]! / n;
    im[k] = -im[k]! / n;
  }
  return [re, im];
}
