import { describe, expect, it } from 'vitest';
import { cross, dot, perpendicular, subtract, type Vec3 } from '../../src/foundation/vector.js';
import { heronLesion, ploverLesion } from '../../src/phantoms/demo-lesions.js';
import { errorChain } from '../../src/print/error-chain.js';
import type { Gauge } from '../../src/print/gauges.js';
import type { TriangleMesh } from '../../src/mesh/mesh.js';
import { preparePrint } from '../../src/print/prepare-print.js';
import type { PrintJob } from '../../src/print/print-job.js';
import { printRules } from '../../src/print/process.js';
import { inputOf, rules, straightVessel } from './make.js';

/**
 * Mean of the smallest and the largest width of what a plane cuts of a mesh near a point: every triangle is cut by itself, and the
 * widths are tried in 720 directions. Shares no code with the sections that the check points come from.
 */
function caliper({ positions, triangles }: TriangleMesh, at: Vec3, along: Vec3, reachMm: number): number {
  const u = perpendicular(along);
  const v = cross(along, u);
  const points: [number, number][] = [];
  const corner = (i: number): Vec3 => {
    const p = 3 * triangles[i];
    return subtract([positions[p], positions[p + 1], positions[p + 2]], at);
  };
  for (let t = 0; t < triangles.length; t += 3) {
    const corners = [corner(t), corner(t + 1), corner(t + 2)];
    const heights = corners.map((c) => dot(c, along));
    for (let k = 0; k < 3; k++) {
      const [a, b] = [k, (k + 1) % 3];
      if (heights[a] < 0 === heights[b] < 0) continue;
      const f = heights[a] / (heights[a] - heights[b]);
      const p = corners[a].map((c, i) => c + f * (corners[b][i] - c)) as Vec3;
      const [x, y] = [dot(p, u), dot(p, v)];
      if (Math.hypot(x, y) < reachMm) points.push([x, y]);
    }
  }
  const widths = Array.from({ length: 720 }, (_, i) => {
    const [c, s] = [Math.cos((Math.PI * i) / 720), Math.sin((Math.PI * i) / 720)];
    const along1 = points.map(([x, y]) => c * x + s * y);
    return Math.max(...along1) - Math.min(...along1);
  });
  return (Math.min(...widths) + Math.max(...widths)) / 2;
}

describe('check points', () => {
  it.each([
    ['heron', () => inputOf(heronLesion())],
    [
      'plover, extruded at twice the size',
      () => inputOf(ploverLesion(), { process: 'material-extrusion', scale: 2 }),
    ],
  ] as const)(
    'of %s: an independent measuring of every diameter agrees within 0.02 mm; three along each landing zone',
    async (_, input) => {
      const { gauges, parts, result } = await preparePrint(input());
      const model = parts.find((p) => p.role === 'model')!.mesh;
      const diameters = gauges.filter((g) => g.kind === 'diameter');
      expect(diameters.length).toBeGreaterThanOrEqual(6);
      for (const g of diameters) {
        const found = caliper(model, g.point, g.along!, 0.8 * g.expectedMm);
        expect({ name: g.name, off: Math.abs(found - g.expectedMm) < 0.02 }).toEqual({
          name: g.name,
          off: true,
        });
      }
      for (const feeder of input().lesion.vessels.filter(
        (v) => v.role === 'feeder' && v.landing!.lengthMm > 10,
      )) {
        const scale = result.scale!;
        const { fromMm, toMm } = feeder.landing!;
        const own = diameters.filter(
          (g) => g.vessel === feeder.name && g.atMm! >= scale * fromMm && g.atMm! <= scale * toMm,
        );
        expect([feeder.name, own.length >= 3]).toEqual([feeder.name, true]);
      }
    },
    120_000,
  );
});

describe('the chain of errors', () => {
  const landing = {
    fromMm: 10,
    toMm: 30,
    lengthMm: 20,
    calibreMm: 6,
    calibreIntervalMm: [5.804, 6.196] as [number, number],
    largestWidthMm: 6,
    taperPercent: 0,
    toSacMm: 5,
    centreMm: [20, 0, 0] as Vec3,
    direction: [1, 0, 0] as Vec3,
  };
  const vessel = { ...straightVessel('A1', [0, 0, 0], 40, 6), landing };
  const gauge = (expectedMm: number, notToSize = false): Gauge => ({
    name: 'G1',
    kind: 'diameter',
    what: '',
    point: [20, 0, 0],
    vessel: 'A1',
    atMm: 20,
    vesselMm: 6,
    expectedMm,
    toleranceMm: 0.16,
    toleranceSource: '',
    notToSize,
  });
  const job = (one: typeof vessel & { landing: { imageCalibreMm?: number } }, isKnown = true): PrintJob =>
    ({
      rules: printRules(rules, 'material-extrusion'),
      scale: 1,
      wallMm: 0,
      lesion: { vessels: [one], neighbours: [] },
      input: { isResolutionKnown: isKnown },
    }) as unknown as PrintJob;

  it('adds independent parts in quadrature and known shifts as they are, worked by hand', () => {
    // Scan 0.196/1.96 = 0.1, segmentation 0.8 as published, process 0.16; shift 0.05: 0.05 + 1.96·sqrt(0.6756) = 1.661.
    expect(errorChain(job(vessel), [gauge(6.05)])).toEqual([
      {
        vessel: 'A1',
        scan_mm: 0.1,
        segmentation_mm: 0.8,
        segmentation_from: 'published',
        thickening_mm: 0,
        simplification_mm: 0.05,
        process_mm: 0.16,
        total_mm: 1.66,
      },
    ]);
  });

  it('takes the segmentation error that was measured, and says what is not known', () => {
    const seen = { ...vessel, landing: { ...landing, imageCalibreMm: 5.8 } };
    // 1.96·sqrt(0.2² + 0.16²) = 0.502
    const [row] = errorChain(job(seen, false), [gauge(6)]);
    expect(row).toMatchObject({ segmentation_mm: 0.2, segmentation_from: 'measured', total_mm: 0.5 });
    expect(row).not.toHaveProperty('scan_mm');
    expect(errorChain(job(vessel), [gauge(7, true)])[0]).toMatchObject({
      thickening_mm: 1,
      simplification_mm: 0,
    });
    expect(errorChain(job(vessel), [])).toEqual([]);
  });
});
