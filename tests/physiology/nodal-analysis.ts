/** One resistor between two nodes; node 0 is ground. */
export interface Resistor {
  from: number;
  to: number;
  resistance: number;
}

/**
 * Node voltages of a resistor network with one current source from ground into node 1, by dense nodal analysis (conductance
 * matrix, Gauss elimination with pivoting). Shares no code with the program.
 */
export function nodeVoltages(
  nodes: number,
  resistors: readonly Resistor[],
  currentIntoNode1: number,
): number[] {
  const n = nodes - 1;
  const a = Array.from({ length: n }, () => new Array<number>(n + 1).fill(0));
  a[0][n] = currentIntoNode1;
  for (const { from, to, resistance } of resistors) {
    const g = 1 / resistance;
    for (const [p, q] of [
      [from, to],
      [to, from],
    ]) {
      if (p === 0) continue;
      a[p - 1][p - 1] += g;
      if (q !== 0) a[p - 1][q - 1] -= g;
    }
  }
  for (let k = 0; k < n; k++) {
    let pivot = k;
    for (let i = k + 1; i < n; i++) if (Math.abs(a[i][k]) > Math.abs(a[pivot][k])) pivot = i;
    [a[k], a[pivot]] = [a[pivot], a[k]];
    for (let i = 0; i < n; i++) {
      if (i === k) continue;
      const factor = a[i][k] / a[k][k];
      for (let j = k; j <= n; j++) a[i][j] -= factor * a[k][j];
    }
  }
  return [0, ...a.map((row, k) => row[n] / row[k])];
}
