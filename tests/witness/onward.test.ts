import { expect, it } from 'vitest';
import type { Vec3 } from '../../src/foundation/vector.js';
import { lineCurve } from '../../src/phantoms/curve.js';
import { roundTube, sweptTube } from '../../src/phantoms/tube.js';
import { loadRules } from '../../src/rules/load-rules.js';
import { numberOf } from '../../src/rules/rule.js';
import type { GreyVolume } from '../../src/volume/ct/grey-volume.js';
import { missedVessels } from '../../src/witness/missed-vessels.js';
import { scanRegion } from '../../src/witness/scan-region.js';
import { straightVessel } from '../print/make.js';
import { withNumber } from '../rules/with-number.js';
import { axialStack } from './synthetic-ct.js';

const rules = loadRules();
const RADIUS_MM = 2.5;
const LENGTH_MM = 24;
const LUMEN_HU = 380;

/** A scan with blood where `outsideMm`, the distance from its wall, is negative. */
function greyOf(outsideMm: (x: number, y: number, z: number) => number): GreyVolume {
  const [step, size, origin]: [number, Vec3, Vec3] = [0.8, [56, 36, 20], [-17, -8, -8]];
  const values = new Int16Array(size[0] * size[1] * size[2]);
  for (let n = 0; n < values.length; n++) {
    const [x, y, z] = [
      n % size[0],
      Math.floor(n / size[0]) % size[1],
      Math.floor(n / (size[0] * size[1])),
    ].map((i, k) => origin[k] + i * step);
    const share = Math.max(0, Math.min(1, 0.5 - outsideMm(x, y, z) / 1.2));
    values[n] = Math.round(-820 + share * (LUMEN_HU + 820));
  }
  return { values, stack: axialStack(origin, [step, step, step], size) };
}

/** A vessel along x whose surface starts at 0; in the scan it continues there, turned by an angle, for 14 mm. */
function scanOf(angleDeg: number): GreyVolume {
  const [c, s] = [Math.cos((angleDeg * Math.PI) / 180), Math.sin((angleDeg * Math.PI) / 180)];
  return greyOf((x, y, z) => {
    const along = Math.max(0, Math.min(LENGTH_MM + 1, x));
    const past = Math.max(0, Math.min(14, -c * x + s * y));
    return Math.min(Math.hypot(x - along, y, z), Math.hypot(x + c * past, y - s * past, z)) - RADIUS_MM;
  });
}

const surfacesOf = (radiusMm: number) => [
  {
    name: 'A1',
    role: 'feeder',
    mesh: sweptTube(
      roundTube(lineCurve([0, 0, 0], [LENGTH_MM, 0, 0]), () => 2 * radiusMm),
      { around: 32 },
    ),
  },
];
const surfaces = surfacesOf(RADIUS_MM);
const vessels = [straightVessel('A1', [0, 0, 0], LENGTH_MM, 2 * RADIUS_MM)];
const toScan = (p: Vec3): Vec3 => p;
const BLUR = { planeMm: 0.45, normalMm: 0.45, noiseHu: 15, lumenHu: LUMEN_HU, edges: 100 };

it('missed-onward-angle: what continues from a far end within it is that vessel, beyond it a missed one', () => {
  const foundAt = (angleDeg: number, ...limits: (typeof rules)[]): number[] => {
    const volume = scanOf(angleDeg);
    const region = scanRegion(surfaces, volume, toScan);
    const scan = { volume, blur: BLUR, toScan };
    return limits.map((inForce) => missedVessels({ surfaces, vessels }, region, scan, inForce).length);
  };
  expect(numberOf(rules, 'missed-onward-angle')).toBe(45);
  // its line starts on the wall of the cut end, so that its angle is known to about 10 degrees
  expect(foundAt(25, rules, withNumber('missed-onward-angle', 10))).toEqual([0, 1]);
  expect(foundAt(65, rules, withNumber('missed-onward-angle', 80))).toEqual([1, 0]);
});

it('a stub shorter than wide past a far end is that vessel, whichever way its line runs', () => {
  const radiusMm = 4.5;
  const foundPast = (stubMm: number, sideMm: number): string[] => {
    const volume = greyOf((x, y, z) => {
      const main = Math.max(Math.hypot(y, z) - radiusMm, -stubMm - x, x - LENGTH_MM - 1);
      const side = Math.max(Math.hypot(x + 2, z) - 1.8, -y, y - sideMm);
      return Math.min(main, side);
    });
    const own = surfacesOf(radiusMm);
    const region = scanRegion(own, volume, toScan);
    const named = [straightVessel('A1', [0, 0, 0], LENGTH_MM, 2 * radiusMm)];
    return missedVessels(
      { surfaces: own, vessels: named },
      region,
      { volume, blur: BLUR, toScan },
      rules,
    ).map(({ kind }) => kind);
  };
  for (const stubMm of [2.5, 3, 3.5, 4, 4.5, 5, 6]) expect(foundPast(stubMm, 0)).toEqual([]);
  // a branch that leaves next to the far end runs out of the vessel's extension
  expect(foundPast(4.5, 18)).toEqual(['side-branch']);
});
