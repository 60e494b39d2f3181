/**
 * An independent implementation of the gas and shunt equations, and a Monte Carlo simulation, sharing no code with the
 * program. Curve: Severinghaus, J Appl Physiol 1979;46:599, Eq. 1, with the Bohr shift exp(1.1 ΔpH); contents by 1.34 mL/g
 * and 0.0031 mL/dL/mmHg; water vapour 47 mmHg at 37 °C; alveolar gas: Fenn, Rahn, Otis 1946 (from memory).
 */
export function curve(po2MmHg: number, ph = 7.4): number {
  const p = po2MmHg * Math.exp(1.1 * (ph - 7.4));
  const x = p * p * p + 150 * p;
  return x / (x + 23400);
}

export const contentMlDl = (hbGDl: number, saturation: number, po2MmHg: number): number =>
  1.34 * hbGDl * saturation + 0.0031 * po2MmHg;

export function alveolarMmHg(fio2: number, barometricMmHg: number, pco2MmHg: number, quotient = 0.8): number {
  return fio2 * (barometricMmHg - 47) - pco2MmHg * fio2 - (pco2MmHg * (1 - fio2)) / quotient;
}

/** Blood and air of a patient. */
export interface Blood {
  hb: number;
  pb: number;
  pco2: number;
  difference: number;
  ph: number;
}

/**
 * Arterial saturation (0..1) that a shunt leaves at `fio2`: the PO2 whose content is Cc' - D f/(1 - f), by Newton's steps
 * from below.
 */
export function saturationLeft(f: number, fio2: number, { hb, pb, pco2, difference, ph }: Blood): number {
  const alveolar = alveolarMmHg(fio2, pb, pco2);
  const full = fio2 === 1 ? 1 : curve(alveolar, ph);
  const wanted = contentMlDl(hb, full, alveolar) - (difference * f) / (1 - f);
  const at = (po2: number) => contentMlDl(hb, curve(po2, ph), po2);
  if (at(alveolar) <= wanted) return full;
  let [low, high] = [0, alveolar];
  while (high - low > 1e-6) {
    const middle = 0.5 * (low + high);
    if (at(middle) < wanted) low = middle;
    else high = middle;
  }
  return curve(low, ph);
}

/**
 * Normal and uniform numbers from a separate generator: Park and Miller's multiplier 48271 (Commun ACM 1993;36(7):108), polar
 * method.
 */
export function seededRandom(seed: number): { even: () => number; normal: () => number } {
  let state = seed;
  const even = (): number => {
    state = (state * 48271) % 2147483647;
    return state / 2147483647;
  };
  const normal = (): number => {
    for (;;) {
      const [u, v] = [2 * even() - 1, 2 * even() - 1];
      const s = u * u + v * v;
      if (s > 0 && s < 1) return u * Math.sqrt((-2 * Math.log(s)) / s);
    }
  };
  return { even, normal };
}

export const meanOf = (values: readonly number[]): number =>
  values.reduce((sum, value) => sum + value, 0) / values.length;

export function sdOf(values: readonly number[]): number {
  const middle = meanOf(values);
  return Math.sqrt(meanOf(values.map((value) => (value - middle) ** 2)));
}

/** 2.5th and 97.5th percentile. */
export function central95Of(values: readonly number[]): [number, number] {
  const sorted = [...values].sort((a, b) => a - b);
  const at = (q: number) => sorted[Math.round(q * (sorted.length - 1))];
  return [at(0.025), at(0.975)];
}

/** Change of `read` for one unit of `key`, by central differences. */
export function slopeOf<T extends Record<string, number>>(
  read: (at: T) => number,
  at: T,
  key: keyof T,
): number {
  const step = 1e-4 * Math.max(1e-2, Math.abs(at[key]));
  const moved = (by: number) => read({ ...at, [key]: at[key] + by });
  return (moved(step) - moved(-step)) / (2 * step);
}
