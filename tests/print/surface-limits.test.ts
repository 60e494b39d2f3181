import { describe, expect, it } from 'vitest';
import type { Vec3 } from '../../src/foundation/vector.js';
import type { Registration } from '../../src/geometry/register/register-surfaces.js';
import { registrationRules } from '../../src/geometry/register/registration-rules.js';
import { sayChecks } from '../../src/print/assemble-package.js';
import { checkMesh } from '../../src/print/check-solid.js';
import type { PrintJob } from '../../src/print/print-job.js';
import { printRules } from '../../src/print/process.js';
import { judged, sizesToTry, type SurfaceProofInput, surfaceLimits } from '../../src/print/surface-proof.js';
import { diameterTolerance, spanTolerance } from '../../src/print/tolerance.js';
import { numberOf } from '../../src/rules/rule.js';
import { box, without } from '../mesh/shapes.js';
import { withNumber } from '../rules/with-number.js';
import { moved, rules, straightVessel } from './make.js';

const limit = (id: string): number => numberOf(rules, id);
const tolerances = { rules: printRules(rules, 'vat-photopolymerisation'), printScale: 1 };
const vesselMm = diameterTolerance(tolerances, 6).toleranceMm;
const sacMm = spanTolerance(tolerances, 0).toleranceMm;

/** Two bars represent a vessel and the sac; distances from them are given, so that each limit can be met exactly. */
const A1 = { name: 'A1', role: 'feeder', mesh: box(40, 6, 6) };
const SAC = { name: 'sac', role: 'sac', mesh: moved(box(20, 6, 6), [100, 0, 0]) };
const COUNT = 1000;
const REACH_MM = 3;

/** Distances of points on either, along x; a point beyond the reach is one that the scan does not show. */
function proof(of: { A1?: (i: number) => number; sac?: (i: number) => number }, inForce = rules) {
  const none = { points: new Float64Array(), signedMm: new Float64Array() };
  const points: number[] = [];
  const signedMm: number[] = [];
  for (const [startX, lengthMm, distance = () => 0] of [
    [0, 40, of.A1],
    [100, 20, of.sac],
  ] as const)
    for (let i = 0; i < COUNT; i++) {
      points.push(startX + (lengthMm * (i + 0.5)) / COUNT, 3, 0);
      signedMm.push(distance(i));
    }
  const registration = {
    verdict: 'placed',
    converged: true,
    reachMm: REACH_MM,
    overlap: { moving: 1, fixed: 1 },
    fixedPoints: { points: Float64Array.from(points), signedMm: Float64Array.from(signedMm) },
    movingPoints: none,
  } as unknown as Registration;
  const vessel = straightVessel('A1', [0, 3, 3] as Vec3, 40, 6);
  const input = {
    parts: [{ ...A1, name: 'model', role: 'model' }, A1, SAC],
    lesion: { vessels: [vessel], neighbours: [] },
    tolerances,
    printScale: 1,
    registration: registrationRules(inForce),
    limits: surfaceLimits(inForce),
  } as unknown as SurfaceProofInput;
  return judged(input, registration);
}
/** Every nth point, evenly along the structure, as many outside as inside. */
const some = (share: number, mm: number) => (i: number) => {
  const count = Math.round(share * COUNT);
  const n = Math.floor((i * count) / COUNT);
  const isOne = Math.floor(((i + 1) * count) / COUNT) > n;
  return isOne ? (n % 2 ? mm : -mm) : 0;
};
const NOT_SHOWN = 2 * REACH_MM;

describe('what a scan of the print must show', () => {
  it('a scan without deviation proves the print, and distinguishes the structures', () => {
    const { verdict, regions, covered } = proof({});
    expect(verdict).toBe('proved');
    expect(regions.map(({ name, points, toleranceMm }) => [name, points, toleranceMm])).toEqual([
      ['A1', COUNT, vesselMm],
      ['sac', COUNT, sacMm],
    ]);
    expect(covered).toBe(1);
  });

  it('proof-surface-share: of a structure, this fraction may be out of tolerance', () => {
    const share = limit('proof-surface-share');
    const out = sacMm + 2 * limit('proof-surface-noise') + 0.01;
    expect(proof({ sac: some(share, out) }).verdict).toBe('proved');
    const past = proof({ sac: some(share + 0.002, out) });
    expect(past.verdict).toBe('not-proved');
    expect(past.because[0]).toMatch(/^sac: 5 % of its surface is out of tolerance .*; 5 % may\.$/);
    const more = withNumber('proof-surface-share', share + 0.01);
    expect(proof({ sac: some(share + 0.002, out) }, more).verdict).toBe('proved');
  });

  it('proof-surface-noise: a point is out beyond the tolerance plus twice this', () => {
    const most = sacMm + 2 * limit('proof-surface-noise');
    expect(proof({ sac: some(0.2, most - 0.001) }).verdict).toBe('proved');
    expect(proof({ sac: some(0.2, most + 0.001) }).verdict).toBe('not-proved');
    const noisier = withNumber('proof-surface-noise', 0.2);
    expect(proof({ sac: some(0.2, most + 0.001) }, noisier).verdict).toBe('proved');
  });

  it('proof-surface-bias-least: a size off by this is named, twice what the wall is off', () => {
    const least = limit('proof-surface-bias-least');
    const even = (mm: number) => ({ A1: () => mm / 2 });
    expect(proof(even(least - 0.001)).verdict).toBe('proved');
    expect(proof(even(least + 0.001)).verdict).toBe('biased');
    expect(proof(even(least + 0.001), withNumber('proof-surface-bias-least', least + 0.01)).verdict).toBe(
      'proved',
    );
  });

  it('proof-surface-covered: of the model', () => {
    // both structures are shown equally
    const shown = (share: number, inForce = rules) => {
      const part = (i: number): number => (i < share * COUNT ? 0 : NOT_SHOWN);
      return proof({ A1: part, sac: part }, inForce);
    };
    const least = limit('proof-surface-covered');
    expect(shown(least).verdict).toBe('proved');
    const under = shown(least - 0.001);
    expect(under.verdict).toBe('not-proved');
    expect(under.because[0]).toContain(`${100 * least} % are needed to prove the print`);
    expect(shown(least - 0.001, withNumber('proof-surface-covered', least - 0.01)).verdict).toBe('proved');
  });

  it('proof-surface-part-covered: of each structure', () => {
    const whole = withNumber('proof-surface-covered', 0.1);
    const shown = (share: number, inForce = whole) =>
      proof({ A1: (i) => (i < share * COUNT ? 0 : NOT_SHOWN) }, inForce);
    const least = limit('proof-surface-part-covered');
    expect(shown(least).verdict).toBe('proved');
    const under = shown(least - 0.001);
    expect(under.verdict).toBe('not-proved');
    expect(under.because[0]).toMatch(/^A1: the scan shows only 50 % of it/);
    expect(shown(least - 0.001, withNumber('proof-surface-part-covered', least - 0.01, whole)).verdict).toBe(
      'proved',
    );
  });

  it('register-other-size: a mix-up of units is tried where the sizes are within this factor of it', () => {
    const most = limit('register-other-size');
    const tried = (ratio: number, inForce = rules) =>
      sizesToTry(ratio, 1, registrationRules(inForce).otherSize);
    // 25.4 mm to the inch; 10 mm to the cm is off by more than the factor
    for (const away of [most - 0.01, 1 / (most - 0.01)])
      expect(tried(25.4 * away)).toEqual([25.4, 25.4 * away]);
    for (const away of [most + 0.01, 1 / (most + 0.01)]) expect(tried(25.4 * away)).toEqual([25.4 * away]);
    const wider = withNumber('register-other-size', most + 0.02);
    expect(tried(25.4 * (most + 0.01), wider)).toEqual([25.4, 25.4 * (most + 0.01)]);
  });
});

describe('a body that is still open after all repairs', () => {
  it('print-not-watertight: a stop with its name, and none for a closed body', () => {
    const said = (mesh: typeof A1.mesh) => {
      const job: Pick<PrintJob, 'findings'> = { findings: [] };
      const wall = { thin: [], thinCount: 0 } as unknown as Parameters<typeof sayChecks>[3];
      sayChecks(job, 'sac', checkMesh(mesh), wall, undefined, true);
      return job.findings.map(({ id, level, where }) => [id, level, where]);
    };
    expect(said(SAC.mesh)).toEqual([]);
    expect(said(without(SAC.mesh, 0))).toEqual([['print-not-watertight', 'stop', 'sac']]);
    // inside out it contains no material
    const inward = SAC.mesh.triangles.map((_, i, all) => all[i - (i % 3) + [0, 2, 1][i % 3]]);
    expect(said({ ...SAC.mesh, triangles: inward })).toEqual([['print-not-watertight', 'stop', 'sac']]);
  });
});
