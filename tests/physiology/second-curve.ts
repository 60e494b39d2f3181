/**
 * A second dissociation curve that shares nothing with the program's own: Siggaard-Andersen, Wimberley, Göthgen,
 * Siggaard-Andersen, Clin Chem 1984;30(10):1646-1651, at 37 °C. PO2 in mmHg; result 0..1.
 */
export function secondCurve(po2MmHg: number, ph = 7.4): number {
  const x = Math.log(po2MmHg * 0.133322387415);
  const a = 1.04 * (7.4 - ph);
  const h = 3.5 + a;
  const x0 = 1.946 + a;
  const y = 1.875 + (x - x0) + h * Math.tanh(0.5343 * (x - x0));
  return 1 / (1 + Math.exp(-y));
}
