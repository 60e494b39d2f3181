import { describe, expect, it } from 'vitest';
import { mulberry32 } from '../../src/foundation/mulberry32.js';
import { findLandingZone } from '../../src/geometry/landing-zone.js';
import type { MeasureDefinitions, ProfileSample } from '../../src/geometry/measure.js';
import { type IndependentZone, independentZone } from './independent-landing-zone.js';
import { DEFINITIONS, profileOf } from './make.js';

interface Feeder {
  sections: ProfileSample[];
  limitMm: number;
  neckMm: number;
  rules: MeasureDefinitions;
}

/** A synthetic feeder with flares, a step, waves or noise, with sections missing at its ends or in a gap, and rules for it. */
function feederOf(seed: number): Feeder {
  const next = mulberry32(seed);
  const between = (low: number, high: number): number => low + (high - low) * next();
  const one = (...values: number[]): number => values[Math.floor(next() * values.length)];
  const [limitMm, lengthMm] = [between(0, 3), between(5, 14)];
  const neckMm = limitMm + lengthMm;
  const calibre = between(3, 8);
  const opening = { atNeck: between(0, 0.2) * calibre, atLimit: one(0, 0, between(0, 0.2)) * calibre };
  const over = { neck: one(0.2, 0.4, 1, 2, 3), limit: one(0.2, 0.4, 1, 2) };
  const power = one(1, 2, 4);
  const slope = one(0, 0, 0, between(-0.12, 0.12));
  const step = { atMm: between(limitMm, neckMm), by: one(0, 0, 0, between(-0.3, 0.3)) * calibre };
  const noise = one(0, 0, 0.01, 0.05);
  const calibreAt = (s: number): number =>
    calibre +
    slope * (s - limitMm) +
    opening.atNeck * Math.max(0, 1 - (neckMm - s) / over.neck) ** power +
    opening.atLimit * Math.max(0, 1 - (s - limitMm) / over.limit) ** power +
    (s > step.atMm ? step.by : 0) +
    noise * (2 * next() - 1);
  const spacing = one(0.05, 0.1, 0.2);
  const missing = { atNeck: one(0, 0, between(0, 0.4)), atLimit: one(-1, 0, between(0, 0.4)) };
  const gap = { atMm: between(limitMm, neckMm), mm: one(0, 0, 0.2, 0.8) };
  const sections = profileOf(
    Array.from({ length: Math.ceil((neckMm + 1) / spacing) }, (_, i) => calibreAt(i * spacing)),
    spacing,
  ).filter(
    ({ atMm }) =>
      atMm <= neckMm - missing.atNeck &&
      atMm >= limitMm + missing.atLimit &&
      Math.abs(atMm - gap.atMm) >= gap.mm / 2,
  );
  const own: Partial<MeasureDefinitions> = {
    landingMinimumMm: one(1, 2, 5),
    landingMinimumCalibres: one(0, 0.5, 1),
    landingVariation: one(0.1, 0.2, 0.3),
    flareSlope: one(0.02, 0.1, 0.3),
    flareErrors: one(0, 1, 2, 3),
    flareWindowMm: one(0.3, 0.7, 1, 2),
    flareWindowCalibres: one(0, 0.2, 0.5),
    flareCornerMm: one(0, 0.3, 0.5, 1),
  };
  return {
    sections,
    limitMm,
    neckMm,
    rules: { ...DEFINITIONS, profileStepMm: one(0.2, 0.25), ...(one(0, 1, 1) === 0 ? {} : own) },
  };
}

const FEEDERS = 300;
const seedsFrom = (first: number, count: number): number[] =>
  Array.from({ length: count }, (_, i) => first + i);

describe('the landing zone against a second implementation', () => {
  it.each(seedsFrom(0, FEEDERS / 10).map((ten) => 10 * ten + 1))(
    'ten synthetic feeders from seed %d: the same ends to the step, the same calibres',
    (first) => {
      for (const seed of seedsFrom(first, 10)) {
        const { sections, limitMm, neckMm, rules } = feederOf(seed);
        const independent = independentZone(sections, limitMm, neckMm, rules);
        const zone = findLandingZone(sections, limitMm, neckMm, rules);
        expect([zone?.inFlare, zone?.calibresMm.length], `feeder ${seed}`).toEqual([
          independent?.inFlare,
          independent?.calibresMm.length,
        ]);
        if (zone === undefined || independent === undefined) continue;
        expect(zone.fromMm, `feeder ${seed}`).toBeCloseTo(independent.fromMm, 9);
        expect(zone.toMm, `feeder ${seed}`).toBeCloseTo(independent.toMm, 9);
        const off = zone.calibresMm.map((one, i) => Math.abs(one - independent.calibresMm[i]));
        expect(Math.max(...off), `feeder ${seed}`).toBeLessThan(1e-9);
        expect(zone.calibreMm).toBeCloseTo(
          off.reduce((sum, _, i) => sum + independent.calibresMm[i], 0) / off.length,
          9,
        );
      }
    },
  );

  it('its feeders cover every kind of zone', () => {
    const zones = seedsFrom(1, FEEDERS).map((seed) => {
      const { sections, limitMm, neckMm, rules } = feederOf(seed);
      return independentZone(sections, limitMm, neckMm, rules);
    });
    const count = (is: (one: IndependentZone) => boolean): number =>
      zones.filter((one) => one !== undefined && is(one)).length;
    expect(FEEDERS - count(() => true)).toBeGreaterThan(20);
    expect(count(({ inFlare }) => inFlare)).toBeGreaterThan(20);
    for (const end of [0, 1]) {
      expect(count(({ flaresMm }) => flaresMm[end] > 0)).toBeGreaterThan(20);
      expect(count(({ cornersMm }) => cornersMm[end] > 0)).toBeGreaterThan(20);
    }
  });
});
