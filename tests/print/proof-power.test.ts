import { describe, expect, it } from 'vitest';
import { randomStream } from '../../src/phantoms/random.js';
import { type PrintProcess, printRules } from '../../src/print/process.js';
import { compareReadings, type Expectation } from '../../src/print/proof.js';
import type { Reading } from '../../src/print/readings.js';
import { deviceChangeMm, diameterTolerance, spanTolerance } from '../../src/print/tolerance.js';
import { rules } from './make.js';

// Prints with known bias, scale, noise and gross errors, a thousand of each kind, read as the plan of readings asks.
const PRINTS = 1000;
const FALSE_PASSES = 0.02 * PRINTS;
const FALSE_ALARMS = 0.05 * PRINTS;
/** Synthetic: two feeders and a drain with three diameters each, sac, spans and tag. */
const FEEDERS = [6.2, 4.4];
const DRAIN = 8.6;
const SPANS = [18.3, 16.3, 17.5, 37.9, 73.6, 67, 34, 27];
const shelf = {
  devices: [4, 5, 6, 7, 8, 9, 10, 12].map((diameterMm) => ({
    code: `PLUG-${diameterMm}`,
    kind: 'vascular-plug' as const,
    diameterMm,
  })),
};

interface Print {
  biasMm?: number;
  scale?: number;
  /** Standard deviation of one reading. */
  noiseMm: number;
  /** Feeder A1 alone is off by this. */
  vesselMm?: number;
  /** One diameter reads this much off. */
  blunderMm?: number;
}

function design(process: PrintProcess) {
  const limits = printRules(rules, process);
  const basis = { rules: limits, printScale: 1, shelf };
  const expectations: Expectation[] = [];
  const add = (e: Omit<Expectation, 'name'>): void => {
    expectations.push({ name: `G${expectations.length + 1}`, ...e });
  };
  [...FEEDERS, DRAIN].forEach((size, v) => {
    for (let k = 0; k < 3; k++)
      add({
        kind: 'diameter',
        vessel: v < FEEDERS.length ? `A${v + 1}` : 'V1',
        expectedMm: size + 0.1 * k,
        toleranceMm: diameterTolerance(basis, size + 0.1 * k).toleranceMm,
        ...(v < FEEDERS.length && { deviceChangeMm: deviceChangeMm(basis, size)!.changeMm }),
      });
  });
  for (const size of SPANS)
    add({ kind: 'span', expectedMm: size, toleranceMm: spanTolerance(basis, size).toleranceMm });
  return { limits, expectations };
}

/** Verdicts on a thousand prints. `rounds` of readings, each by one of two readers. */
function verdicts(process: PrintProcess, print: Print, rounds: number, seed: number): Record<string, number> {
  const { limits, expectations } = design(process);
  const random = randomStream(seed);
  // A normal deviate by the polar form of Box and Muller, from memory.
  const normal = (): number =>
    Math.sqrt(-2 * Math.log(1 - random.next())) * Math.cos(2 * Math.PI * random.next());
  const counts: Record<string, number> = { proved: 0, biased: 0, 'not-proved': 0 };
  for (let n = 0; n < PRINTS; n++) {
    const blunder = Math.floor(9 * random.next());
    const readings: Reading[] = expectations.flatMap((e, i) => {
      const size =
        (e.expectedMm + (e.kind === 'diameter' ? (print.biasMm ?? 0) : 0)) * (print.scale ?? 1) +
        (e.vessel === 'A1' ? (print.vesselMm ?? 0) : 0) +
        (print.blunderMm !== undefined && i === blunder ? print.blunderMm : 0);
      return Array.from({ length: rounds }, (_, round) => ({
        name: e.name,
        valueMm: size + print.noiseMm * normal(),
        asWritten: '',
        round: round + 1,
      }));
    });
    counts[compareReadings(expectations, readings, limits, 1).verdict]++;
  }
  return counts;
}

/** Rounds of nine diameters that contain the readings needed: 10, 11, 25 and 20. */
const ROUNDS: [PrintProcess, number][] = [
  ['material-extrusion', 2],
  ['vat-photopolymerisation', 2],
  ['material-jetting', 3],
  ['powder-bed', 3],
];

describe.each(ROUNDS)('%s, %i rounds', (process, rounds) => {
  it.each([0.05, 0.1])('a true print read with %d mm of noise: false alarms below 5 %%', (noiseMm) => {
    const found = verdicts(process, { noiseMm }, rounds, 101);
    expect(PRINTS - found.proved).toBeLessThan(FALSE_ALARMS);
  });

  // Half a step between devices: 0.5 mm.
  it.each([-0.5, 0.5])('a bias of %d mm, which changes a device: false passes below 2 %%', (biasMm) => {
    const found = verdicts(process, { noiseMm: 0.1, biasMm }, rounds, 202);
    expect(found['not-proved']).toBeGreaterThan(PRINTS - FALSE_PASSES);
  });

  it('a bias equal to the tolerance: never more than 2 % are proved', () => {
    const { limits } = design(process);
    for (const noiseMm of [0.05, 0.15]) {
      const found = verdicts(process, { noiseMm, biasMm: limits.deviationMm }, rounds, 303);
      expect(found.proved + found.biased).toBeLessThan(FALSE_PASSES);
    }
  });

  it('one feeder alone off by half a step: false passes below 2 %', () => {
    const found = verdicts(process, { noiseMm: 0.1, vesselMm: -0.5 }, rounds, 404);
    expect(found.proved + found.biased).toBeLessThan(FALSE_PASSES);
  });

  it('a scale error of 2 %: false passes below 2 %', () => {
    const found = verdicts(process, { noiseMm: 0.1, scale: 1.02 }, rounds, 505);
    expect(found.proved + found.biased).toBeLessThan(FALSE_PASSES);
  });

  it('one reading of a diameter off by 1.2 mm in every round: false passes below 2 %', () => {
    const found = verdicts(process, { noiseMm: 0.1, blunderMm: 1.2 }, rounds, 606);
    expect(found.proved + found.biased).toBeLessThan(FALSE_PASSES);
  });
});

describe('within tolerance, but off', () => {
  it('a bias of 0.1 mm on an extruded print is reported as a bias, or left open, and hardly ever proved', () => {
    const found = verdicts('material-extrusion', { noiseMm: 0.05, biasMm: 0.1 }, 2, 707);
    expect(found.biased).toBeGreaterThan(0.8 * PRINTS);
    expect(found.proved).toBeLessThan(FALSE_PASSES);
  });

  it('so is a scale error of 0.6 %', () => {
    const found = verdicts('material-extrusion', { noiseMm: 0.05, scale: 1.006 }, 2, 808);
    expect(found.proved).toBeLessThan(FALSE_PASSES);
    expect(found.biased).toBeGreaterThan(0.9 * PRINTS);
  });
});
