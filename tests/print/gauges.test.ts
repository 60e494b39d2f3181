import { describe, expect, it } from 'vitest';
import type { Vec3 } from '../../src/foundation/vector.js';
import { heronLesion, ploverLesion } from '../../src/phantoms/demo-lesions.js';
import { lineCurve } from '../../src/phantoms/curve.js';
import { roundTube, sweptTube } from '../../src/phantoms/tube.js';
import { errorChain } from '../../src/print/error-chain.js';
import type { Gauge } from '../../src/print/gauges/gauge.js';
import { preparePrint } from '../../src/print/prepare-print.js';
import type { PrintInputPart, PrintJob } from '../../src/print/print-job.js';
import { printRules } from '../../src/print/process.js';
import { caliper } from './caliper.js';
import { bareInput, inputOf, rules, straightVessel } from './make.js';

describe('check points', () => {
  it.each([
    ['heron', () => inputOf(heronLesion())],
    [
      'plover, extruded at twice the size',
      () => inputOf(ploverLesion(), { process: 'material-extrusion', scale: 2 }),
    ],
  ] as const)(
    'of %s: an independent measurement of every diameter agrees within 0.02 mm; three along each landing zone',
    async (_, input) => {
      const { gauges, parts, result } = await preparePrint(input());
      const model = parts.find((p) => p.role === 'model')!.mesh;
      const diameters = gauges.filter((g) => g.kind === 'diameter');
      expect(diameters.length).toBeGreaterThanOrEqual(6);
      for (const g of diameters) {
        const found = caliper(model, g.point, g.along!);
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

describe('where two vessels touch', () => {
  const tube = (from: Vec3, to: Vec3, calibreMm: number) =>
    sweptTube(
      roundTube(lineCurve(from, to), () => calibreMm),
      { around: 48, stepMm: 0.5 },
    );
  /** Positions of the check points of a straight 5 mm vessel along x, 40 mm long, next to another one. */
  const placesBeside = async (other?: { from: Vec3; to: Vec3; calibreMm: number }): Promise<number[]> => {
    const parts: PrintInputPart[] = [
      { name: 'A1', role: 'feeder', mesh: tube([0, 0, 0], [40, 0, 0], 5) },
      ...(other
        ? [{ name: 'V1', role: 'drain' as const, mesh: tube(other.from, other.to, other.calibreMm) }]
        : []),
    ];
    const lesion = { vessels: [straightVessel('A1', [0, 0, 0], 40, 5)], neighbours: [] };
    const { gauges } = await preparePrint(bareInput(parts, lesion, { process: 'material-jetting' }));
    return gauges.filter((g) => g.kind === 'diameter').map((g) => g.atMm!);
  };

  it('there is no check point: another crosses, runs alongside, or is thin', async () => {
    // About halfway along, next to the stem of the tag, there is one as long as nothing touches.
    expect((await placesBeside()).some((at) => at > 13.9 && at < 26.1)).toBe(true);
    const touching = {
      crosses: { from: [20, -15, 4.9], to: [20, 15, 4.9], calibreMm: 5 },
      beside: { from: [14, 4.9, 0], to: [26, 4.9, 0], calibreMm: 5 },
      thin: { from: [14, 3.05, 0], to: [26, 3.05, 0], calibreMm: 1.2 },
    } satisfies Record<string, { from: Vec3; to: Vec3; calibreMm: number }>;
    for (const [name, other] of Object.entries(touching)) {
      const places = await placesBeside(other);
      expect([name, places.length > 0]).toEqual([name, true]);
      const reach = name === 'crosses' ? 2.6 : 6.1;
      expect([name, places.filter((at) => Math.abs(at - 20) < reach)]).toEqual([name, []]);
    }
  }, 120_000);
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

  it('adds independent parts in quadrature and known shifts linearly, by hand', () => {
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

  it('adds up like three published heart models: surface to scan and print to surface make print to scan', () => {
    // Lee, three models, as tabulated in a review in Micromachines 2023: surface less CT 0.12 ± 0.23 mm, print less surface
    // 0.10 ± 0.28, print less CT 0.21 ± 0.37, each measured separately. Here 0.22 + 1.96·sqrt(0.23² + 0.28²) = 0.930 against
    // 0.21 + 1.96·0.37 = 0.935.
    const lee = {
      ...vessel,
      landing: { ...landing, calibreIntervalMm: [6 - 1.96 * 0.23, 6 + 1.96 * 0.23] as [number, number] },
    };
    const base = job(lee);
    const chained = { ...base, rules: { ...base.rules, segmentationMm: 0, deviationMm: 0.28 } };
    const [row] = errorChain(chained, [gauge(6 + 0.12 + 0.1)]);
    expect(row).toMatchObject({ scan_mm: 0.23, simplification_mm: 0.22, process_mm: 0.28, total_mm: 0.93 });
    expect(Math.abs(row.total_mm - (0.21 + 1.96 * 0.37))).toBeLessThan(0.02);
  });

  it('uses the measured segmentation error, and says what is not known', () => {
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
