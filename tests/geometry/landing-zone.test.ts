import { describe, expect, it } from 'vitest';
import { findLandingZone } from '../../src/geometry/landing-zone.js';
import type { MeasureDefinitions } from '../../src/geometry/measure.js';
import { landingTruth } from '../../src/phantoms/landing-truth.js';
import { DEFINITIONS, profileAlong, profileOf } from './make.js';

const find = (
  calibreAt: (s: number) => number,
  limit: number,
  neck: number,
  more?: Partial<MeasureDefinitions>,
) => findLandingZone(profileAlong(calibreAt, neck), limit, neck, { ...DEFINITIONS, ...more });

describe('landing zone', () => {
  it('an even feeder: all of it', () => {
    expect(find(() => 6, 0, 30)).toMatchObject({
      fromMm: 0,
      toMm: 30,
      calibreMm: 6,
      largestWidthMm: 6,
      variation: 0,
    });
  });

  it('ends at the sac-side edge of the last branch', () => {
    const zone = find(() => 6, 12.3, 30)!;
    expect(zone.fromMm).toBe(12.3);
    expect(zone.toMm).toBe(30);
  });

  it('5 mm: just enough, and just not', () => {
    expect(find(() => 4, 25, 30)!.toMm - 25).toBeCloseTo(5, 9);
    expect(find(() => 4, 25.1, 30)).toBeUndefined();
  });

  it('one calibre: just enough, and just not', () => {
    expect(find(() => 8, 22, 30)!.fromMm).toBe(22);
    expect(find(() => 8, 22.1, 30)).toBeUndefined();
  });

  it('20 %: a step within it is crossed, one beyond it ends the zone', () => {
    // far part d, near part 5 over 20 of 40 mm: (d - 5) / mean = 0.2 where the mean has both in it
    const step = (d: number) => find((s) => (s <= 20 ? d : 5), 0, 40)!;
    // with 0.1 mm of the far part the mean is still about 5: a step of 0.99 stays within, one of 1.01 does not
    expect(step(5.99).fromMm).toBe(0);
    expect(step(5.99).variation).toBeLessThan(0.2);
    const ended = step(6.1);
    expect(ended.fromMm).toBeGreaterThan(19.9);
    expect(ended.fromMm).toBeLessThan(20.6);
    // the ramp between the two sections beside the step belongs to the zone as far as it keeps to 20 %
    expect(ended.calibreMm).toBeCloseTo(5, 1);
  });

  it('a cone: as far as (x - 6) = 0.2 (x + 6) / 2', () => {
    const zone = find((s) => 12 - 0.1 * s, 0, 60)!;
    expect(zone.toMm).toBe(60);
    expect(zone.toMm - zone.fromMm).toBeCloseTo((6.6 / 0.9 - 6) / 0.1, 0);
    expect(Math.abs(60 - zone.fromMm - (6.6 / 0.9 - 6) / 0.1)).toBeLessThanOrEqual(0.1 + 1e-9);
    expect(zone.variation).toBeGreaterThan(0.195);
    expect(zone.variation).toBeLessThanOrEqual(0.2);
  });

  it('goes away from a mouth that widens too fast', () => {
    // 5 mm, opening by 2 mm a mm over the last 3 mm: 20 % within a stretch of 5 mm and more
    const zone = find((s) => (s > 37 ? 5 + (s - 37) * 2 : 5), 0, 40)!;
    // s mm into the mouth the calibre is 5 + 2 s; the mean over the long even part stays near 5: s = 0.5 to 0.6
    expect(zone.toMm).toBeGreaterThan(36.9);
    expect(zone.toMm).toBeLessThan(37.7);
    expect(zone.fromMm).toBe(0);
  });

  it('takes the first stretch away from the sac, not the longest', () => {
    // 10 to 40 mm even at 5; then a jump to 8 over 34 to 40 mm of 40
    const zone = find((s) => (s <= 31 ? 5 : 8), 0, 40)!;
    expect(zone.toMm).toBe(40);
    expect(zone.calibreMm).toBeCloseTo(8, 1);
    expect(zone.fromMm).toBeGreaterThan(30.4);
    expect(zone.fromMm).toBeLessThan(31.6);
    // shorter than one calibre of 8 mm it does not count
    expect(find((s) => (s <= 33 ? 5 : 8), 0, 40)!.calibreMm).toBeLessThan(6);
  });

  it('none where the calibre never rests', () => {
    expect(find((s) => 4 + 2 * Math.sin(1.5 * s), 0, 40)).toBeUndefined();
    expect(find(() => 6, 29, 30)).toBeUndefined();
    expect(findLandingZone([], 0, 30, DEFINITIONS)).toBeUndefined();
  });

  it('its largest width is that of the sections in it, those at its ends included', () => {
    const step = DEFINITIONS.profileStepMm;
    const largest = (mm: number): number => {
      const samples = profileAlong(() => 5, 34).map((s) => ({
        ...s,
        maxMm: Math.abs(s.atMm - mm) < step / 2 ? 6.5 : 5.1,
      }));
      return findLandingZone(samples, 10, 30, DEFINITIONS)!.largestWidthMm;
    };
    expect([10, 20, 30].map(largest)).toEqual([6.5, 6.5, 6.5]);
    expect([10 - step, 30 + step].map(largest)).toEqual([5.1, 5.1]);
  });

  it('begins at the neck where at most two and a half steps of sections are missing there', () => {
    const step = DEFINITIONS.profileStepMm;
    const until = (mm: number) => profileAlong(() => 5, 30).filter(({ atMm }) => atMm <= mm + 1e-6);
    expect(findLandingZone(until(30 - 2 * step), 0, 30, DEFINITIONS)?.toMm).toBe(30);
    expect(findLandingZone(until(30 - 3 * step), 0, 30, DEFINITIONS)!.toMm).toBeLessThan(30 - 0.25 * step);
  });

  it('a gap between sections is not bridged', () => {
    const profile = profileAlong(() => 6, 40).filter((s) => s.atMm < 20 || s.atMm > 22.5);
    const zone = findLandingZone(profile, 0, 40, DEFINITIONS)!;
    expect(zone.toMm).toBe(40);
    expect(zone.fromMm).toBeGreaterThan(22);
  });

  it('obeys the definitions it is given', () => {
    expect(find(() => 4, 25.1, 30, { landingMinimumMm: 4 })).toBeDefined();
    expect(find(() => 8, 22.1, 30, { landingMinimumCalibres: 0.9 })).toBeDefined();
    expect(find((s) => (s <= 20 ? 6.1 : 5), 0, 40, { landingVariation: 0.25 })!.fromMm).toBe(0);
  });
});

describe('flares at the ends of a landing zone', () => {
  /** 6 mm, opening by `byMm` over the last `overMm` before 40 mm along a parabola. */
  const mouth = (overMm: number, byMm: number) => (s: number) =>
    6 + byMm * Math.max(0, (s - (40 - overMm)) / overMm) ** 2;
  const closely = (
    calibreAt: (s: number) => number,
    limit: number,
    other: Partial<typeof DEFINITIONS> = {},
  ) =>
    findLandingZone(
      profileOf(
        Array.from({ length: 401 }, (_, i) => calibreAt(i / 10)),
        0.1,
      ),
      limit,
      40,
      { ...DEFINITIONS, ...other },
    )!;

  it.each([
    [1, 1.5],
    [2, 1.5],
    [3, 1.5],
    [1.5, 1],
    [4, 1.2],
  ])('a round feeder that opens over %d mm by %d mm: as the definition worked out apart', (overMm, byMm) => {
    const zone = closely(mouth(overMm, byMm), 30, { flareCornerMm: 0 });
    const truth = landingTruth(mouth(overMm, byMm), 40, 30, 0.1)!;
    expect(zone.inFlare).toBe(false);
    expect(Math.abs(zone.toMm - truth.toMm)).toBeLessThan(0.11);
    expect(Math.abs(100 * zone.variation - truth.taperPercent)).toBeLessThan(1.2);
    const cornered = closely(mouth(overMm, byMm), 30);
    expect(cornered.toMm).toBeLessThanOrEqual(zone.toMm);
    expect(cornered.toMm).toBeGreaterThanOrEqual(zone.toMm - 0.5);
    expect(cornered.variation).toBeLessThanOrEqual(zone.variation);
    expect(zone.largestWidthMm).toBeLessThanOrEqual(mouth(overMm, byMm)(zone.toMm) + 1e-9);
    if (zone.fromMm === 30) expect(zone.calibreMm).toBeCloseTo(truth.calibreMm, 1);
  });

  it('all of a long feeder but its mouth', () => {
    const zone = closely(mouth(3, 1.5), 0);
    expect(zone.fromMm).toBe(0);
    expect(zone.toMm).toBeGreaterThan(38);
    expect(zone.toMm).toBeLessThan(39);
    // with its mouth the zone would taper by 20 % and read 7.2 mm as its largest width
    expect(100 * zone.variation).toBeLessThan(8);
    expect(zone.largestWidthMm).toBeLessThan(6.5);
    expect(zone.calibreMm).toBeCloseTo(6.007, 2);
  });

  it('at the far end as well, behind a junction', () => {
    const calibreAt = (s: number): number => 6 + 0.8 * Math.max(0, 1 - (s - 10) / 2) ** 2;
    const zone = closely(calibreAt, 10, { flareCornerMm: 0 });
    const truth = landingTruth(calibreAt, 40, 10, 0.1)!;
    expect(zone.fromMm).toBeGreaterThan(10.3);
    expect(Math.abs(zone.fromMm - truth.fromMm)).toBeLessThan(0.11);
    expect(zone.toMm).toBe(40);
  });

  it('0.1 mm a mm: a slope just below it is left, one just above it is a flare from end to end', () => {
    expect(find((s) => 7 + 0.099 * (s - 30), 20, 30)).toMatchObject({ fromMm: 20, toMm: 30, inFlare: false });
    const steep = find((s) => 7 + 0.101 * (s - 30), 20, 30)!;
    expect(steep).toMatchObject({ fromMm: 20, toMm: 30, inFlare: true });
    expect(steep.variation).toBeCloseTo(1.01 / 6.5, 2);
  });

  it('a slope within twice its standard error is no flare', () => {
    expect(find((s) => 7 + 0.13 * (s - 10), 0, 10)!.inFlare).toBe(true);
    const uneven = (s: number): number => 7 + 0.13 * (s - 10) + 0.2 * Math.cos(3 * s);
    expect(find(uneven, 0, 10, { landingVariation: 0.3 })!.inFlare).toBe(false);
  });

  it('looks over half a calibre where that is more than 2 mm', () => {
    const calibreAt = (s: number): number => 12 + 1.2 * Math.max(0, (s - 57) / 3) ** 2;
    const [half, two] = [0.5, 0].map(
      (flareWindowCalibres) => find(calibreAt, 0, 60, { flareWindowCalibres })!,
    );
    expect(half.toMm).toBeGreaterThan(two.toMm + 0.3);
  });

  /** A round sac of `radiusMm` whose middle lies `radiusMm` past 40 mm: it meets the vessel at a sharp edge. */
  const edge = (radiusMm: number) => (s: number) => {
    const within = radiusMm ** 2 - Math.max(0, 40 + Math.sqrt(radiusMm ** 2 - 9) - s) ** 2;
    return Math.max(6, 2 * Math.sqrt(Math.max(0, within)));
  };

  it.each([5, 8, 12, 20])(
    'a sharp edge before a sac of %d mm is taken off, within half a millimetre',
    (radiusMm) => {
      const calibreAt = (s: number): number => edge(radiusMm)(s + 0.35);
      expect(100 * closely(calibreAt, 20, { flareCornerMm: 0 }).variation).toBeGreaterThan(6);
      const zone = closely(calibreAt, 20);
      expect(100 * zone.variation).toBeLessThan(3);
      expect(zone.largestWidthMm).toBeLessThan(6.2);
      expect(zone.toMm).toBeGreaterThan(39);
      expect(zone).toMatchObject({ fromMm: 20, inFlare: false });
    },
  );

  it('what is left after a corner is never less than a zone must be', () => {
    const zone = closely((s) => edge(8)(s + 0.35), 33.7);
    expect(zone.toMm - zone.fromMm).toBeGreaterThanOrEqual(6);
    expect(zone.inFlare).toBe(false);
  });

  it('what is left: just enough, and just not', () => {
    const calibreAt = (s: number): number => mouth(3, 0.7)(s) - 2;
    const takenMm = 40 - closely(calibreAt, 20, { flareCornerMm: 0 }).toMm;
    expect(takenMm).toBeGreaterThan(0.5);
    expect(closely(calibreAt, 40 - takenMm - 5.05)).toMatchObject({ inFlare: false });
    const short = closely(calibreAt, 40 - takenMm - 4.95);
    expect(short.inFlare).toBe(true);
    expect(short.toMm).toBeGreaterThan(40 - takenMm);
  });
});
