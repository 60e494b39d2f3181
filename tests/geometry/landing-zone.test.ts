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
  it('an even feeder: the whole feeder', () => {
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

  it('5 mm: just long enough, and just too short', () => {
    expect(find(() => 4, 25, 30)!.toMm - 25).toBeCloseTo(5, 9);
    expect(find(() => 4, 25.1, 30)).toBeUndefined();
  });

  it('one calibre: just long enough, and just too short', () => {
    expect(find(() => 8, 22, 30)!.fromMm).toBe(22);
    expect(find(() => 8, 22.1, 30)).toBeUndefined();
  });

  it('20 %: runs across a step within it, ends at one beyond it', () => {
    // far part d, near part 5 over 20 of 40 mm: (d - 5) / mean = 0.2 where the mean covers both
    const step = (d: number) => find((s) => (s <= 20 ? d : 5), 0, 40)!;
    // with 0.1 mm of the far part the mean is still about 5: a step of 0.99 stays within, one of 1.01 does not
    expect(step(5.99).fromMm).toBe(0);
    expect(step(5.99).variation).toBeLessThan(0.2);
    const ended = step(6.1);
    expect(ended.fromMm).toBeGreaterThan(19.9);
    expect(ended.fromMm).toBeLessThan(20.6);
    // the ramp between the two sections beside the step belongs to the zone as long as it keeps to 20 %
    expect(ended.calibreMm).toBeCloseTo(5, 1);
  });

  it('a cone: up to (x - 6) = 0.2 (x + 6) / 2', () => {
    const zone = find((s) => 12 - 0.1 * s, 0, 60)!;
    expect(zone.toMm).toBe(60);
    expect(zone.toMm - zone.fromMm).toBeCloseTo((6.6 / 0.9 - 6) / 0.1, 0);
    expect(Math.abs(60 - zone.fromMm - (6.6 / 0.9 - 6) / 0.1)).toBeLessThanOrEqual(0.1 + 1e-9);
    expect(zone.variation).toBeGreaterThan(0.195);
    expect(zone.variation).toBeLessThanOrEqual(0.2);
  });

  it('moves away from a mouth that widens too fast', () => {
    // 5 mm, widening by 2 mm per mm over the last 3 mm: 20 % within a stretch of 5 mm and more
    const zone = find((s) => (s > 37 ? 5 + (s - 37) * 2 : 5), 0, 40)!;
    // s mm into the mouth the calibre is 5 + 2 s; the mean over the long even part stays near 5: s = 0.5 to 0.6
    expect(zone.toMm).toBeGreaterThan(36.9);
    expect(zone.toMm).toBeLessThan(37.7);
    expect(zone.fromMm).toBe(0);
  });

  it('takes the first steady stretch away from the sac, not the longest', () => {
    // even at 5 from 10 to 40 mm; then a jump to 8 from 34 to 40 mm of 40
    const zone = find((s) => (s <= 31 ? 5 : 8), 0, 40)!;
    expect(zone.toMm).toBe(40);
    expect(zone.calibreMm).toBeCloseTo(8, 1);
    expect(zone.fromMm).toBeGreaterThan(30.4);
    expect(zone.fromMm).toBeLessThan(31.6);
    // if shorter than one calibre of 8 mm it does not count
    expect(find((s) => (s <= 33 ? 5 : 8), 0, 40)!.calibreMm).toBeLessThan(6);
  });

  it('none where the calibre is nowhere steady', () => {
    expect(find((s) => 4 + 2 * Math.sin(1.5 * s), 0, 40)).toBeUndefined();
    expect(find(() => 6, 29, 30)).toBeUndefined();
    expect(findLandingZone([], 0, 30, DEFINITIONS)).toBeUndefined();
  });

  it('its largest width is that of its sections, including those at its ends', () => {
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

  it('starts at the neck if at most two and a half steps of sections are missing there', () => {
    const step = DEFINITIONS.profileStepMm;
    const until = (mm: number) => profileAlong(() => 5, 30).filter(({ atMm }) => atMm <= mm + 1e-6);
    expect(findLandingZone(until(30 - 2 * step), 0, 30, DEFINITIONS)?.toMm).toBe(30);
    expect(findLandingZone(until(30 - 3 * step), 0, 30, DEFINITIONS)!.toMm).toBeLessThan(30 - 0.25 * step);
  });

  it('does not bridge a gap between sections', () => {
    const profile = profileAlong(() => 6, 40).filter((s) => s.atMm < 20 || s.atMm > 22.5);
    const zone = findLandingZone(profile, 0, 40, DEFINITIONS)!;
    expect(zone.toMm).toBe(40);
    expect(zone.fromMm).toBeGreaterThan(22);
  });

  /** Sections at the very positions where the definition is evaluated: every 0.025 mm back from the neck at 20 mm. */
  const stepwise = (calibreOfStep: (i: number) => number) =>
    Array.from({ length: 801 }, (_, i) => ({
      ...profileOf([calibreOfStep(i)])[0],
      atMm: 20 - i * 0.025,
    })).reverse();
  const sectionsAt = (...places: number[]) => places.map((atMm) => ({ ...profileOf([5])[0], atMm }));
  const every = (from: number, to: number): number[] =>
    Array.from({ length: Math.round((to - from) / 0.5) + 1 }, (_, i) => from + i * 0.5);

  it.each([
    [0.1, 0.3],
    [0.3, 0.6],
  ])(
    'a flare does not look even where sections are missing over its last %d mm, at either end',
    (missingMm, window) => {
      // 0.5 mm wider per mm over the last mm: three sections 0.1 mm apart lie on one line, the substitute for those beyond
      // does not
      const opening = (i: number): number => 5 + Math.max(0, 1 - i * 0.025) * 0.5;
      const narrow = {
        ...DEFINITIONS,
        flareWindowMm: window,
        flareWindowCalibres: 0,
        flareErrors: 9,
        flareCornerMm: 0,
      };
      const missing = Math.round(missingMm / 0.025);
      const atNeck = findLandingZone(stepwise(opening).slice(0, -missing), 0, 20, narrow)!;
      expect(atNeck.inFlare).toBe(false);
      expect(atNeck.toMm).toBeLessThan(20 - missingMm);
      const atFarEnd = findLandingZone(stepwise((i) => opening(800 - i)).slice(missing), 0, 20, narrow)!;
      expect(atFarEnd.inFlare).toBe(false);
      expect(atFarEnd.fromMm).toBeGreaterThan(missingMm);
    },
  );

  it('has a calibre for every 0.025 mm, both ends included', () => {
    expect(find(() => 5, 0, 30)!.calibresMm).toHaveLength(30 / 0.025 + 1);
    expect(find(() => 5, 0.01, 30)!.calibresMm).toHaveLength(29.975 / 0.025 + 1);
  });

  it('reaches a limit between two of these positions, and its length says so', () => {
    expect(find(() => 5, 12.31, 30)!.fromMm).toBe(12.31);
    // 5.02 mm long: the last evaluated position lies 5 mm before the neck
    expect(find(() => 5, 24.98, 30, { landingMinimumMm: 5.01 })).toMatchObject({ fromMm: 24.98, toMm: 30 });
    expect(find(() => 5, 24.98, 30, { landingMinimumMm: 5.03 })).toBeUndefined();
  });

  it('a variation equal to the limit is steady: 4.5, 3.5, 4.5, 3.5 vary by a quarter of their mean', () => {
    const waves = stepwise((i) => (i % 2 === 0 ? 4.5 : 3.5));
    const zone = findLandingZone(waves, 0, 20, { ...DEFINITIONS, landingVariation: 0.25 });
    expect(zone).toMatchObject({ fromMm: 0, toMm: 20, inFlare: false });
    expect(findLandingZone(waves, 0, 20, { ...DEFINITIONS, landingVariation: 0.249 })).toBeUndefined();
  });

  it.each([
    // the 5.9 mm at the neck itself and 4.8 mm are 1.1 mm apart, 22 % of 5 mm; without it 4.8 and 5 mm are 4 %
    [0.5, 20, 'not much farther'],
    [0.525, 19.975, 'much farther'],
  ])('where the next position reaches %d mm farther it starts at %d mm (%s)', (fartherMm, toMm) => {
    // 4.8 mm from 9 mm on, and 3 mm where that ends; the first position of both keeps the step before it
    const ends = 440 + Math.round(fartherMm / 0.025);
    const calibreOfStep = (i: number): number => (i === 0 ? 5.9 : i <= 440 ? 5 : i <= ends ? 4.8 : 3);
    const zone = findLandingZone(stepwise(calibreOfStep), 0, 20, {
      ...DEFINITIONS,
      flareErrors: 9,
      flareCornerMm: 0,
    })!;
    expect(zone.toMm).toBeCloseTo(toMm, 9);
    expect(zone.fromMm).toBeCloseTo(fartherMm > 0.5 ? 9 - fartherMm : 9, 9);
  });

  it.each([
    // two and a half steps of 0.5 mm: accepted, and not accepted, where sections are missing before the neck
    [[...every(0, 28.5), 28.75], { fromMm: 0, toMm: 30 }],
    [[...every(0, 28.5), 28.7], { fromMm: 0, toMm: 29.95 }],
    // after the far end
    [[1.25, ...every(1.5, 30)], { fromMm: 0, toMm: 30 }],
    [every(1.5, 30), { fromMm: 0.25, toMm: 30 }],
    // between two sections
    [[...every(0, 15), ...every(16.25, 29.75), 30], { fromMm: 0, toMm: 30 }],
    [[...every(0, 15), ...every(16.5, 30)], { fromMm: 16.525, toMm: 30 }],
    // a section at the end of a gap counts where the vessel continues from it away from the sac
    [[...every(0, 20), ...every(27, 30)], { fromMm: 0, toMm: 20 }],
  ])('sections missing, case %#: none is replaced from farther than two and a half steps', (places, ends) => {
    expect(DEFINITIONS.profileStepMm).toBe(0.5);
    const zone = findLandingZone(sectionsAt(...places), 0, 30, DEFINITIONS)!;
    expect(zone.fromMm).toBeCloseTo(ends.fromMm, 9);
    expect(zone.toMm).toBeCloseTo(ends.toMm, 9);
  });

  it('follows the definitions it is given', () => {
    expect(find(() => 4, 25.1, 30, { landingMinimumMm: 4 })).toBeDefined();
    expect(find(() => 8, 22.1, 30, { landingMinimumCalibres: 0.9 })).toBeDefined();
    expect(find((s) => (s <= 20 ? 6.1 : 5), 0, 40, { landingVariation: 0.25 })!.fromMm).toBe(0);
  });
});

describe('flares at the ends of a landing zone', () => {
  /** 6 mm, widening by `byMm` over the last `overMm` before 40 mm along a parabola. */
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
  ])(
    'a round feeder that widens over %d mm by %d mm: as computed independently from the definition',
    (overMm, byMm) => {
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
    },
  );

  it('the whole of a long feeder except its mouth', () => {
    const zone = closely(mouth(3, 1.5), 0);
    expect(zone.fromMm).toBe(0);
    expect(zone.toMm).toBeGreaterThan(38);
    expect(zone.toMm).toBeLessThan(39);
    // with its mouth the zone would taper by 20 % and have 7.2 mm as its largest width
    expect(100 * zone.variation).toBeLessThan(8);
    expect(zone.largestWidthMm).toBeLessThan(6.5);
    expect(zone.calibreMm).toBeCloseTo(6.007, 2);
  });

  it('also at the far end, behind a junction', () => {
    const calibreAt = (s: number): number => 6 + 0.8 * Math.max(0, 1 - (s - 10) / 2) ** 2;
    const zone = closely(calibreAt, 10, { flareCornerMm: 0 });
    const truth = landingTruth(calibreAt, 40, 10, 0.1)!;
    expect(zone.fromMm).toBeGreaterThan(10.3);
    expect(Math.abs(zone.fromMm - truth.fromMm)).toBeLessThan(0.11);
    expect(zone.toMm).toBe(40);
  });

  it('0.1 mm per mm: a slope just below it stays, one just above it is a flare from end to end', () => {
    expect(find((s) => 7 + 0.099 * (s - 30), 20, 30)).toMatchObject({ fromMm: 20, toMm: 30, inFlare: false });
    const steep = find((s) => 7 + 0.101 * (s - 30), 20, 30)!;
    expect(steep).toMatchObject({ fromMm: 20, toMm: 30, inFlare: true });
    expect(steep.variation).toBeCloseTo(1.01 / 6.5, 2);
  });

  it('a slope equal to the limit is no flare: an even feeder has none at a limit of zero', () => {
    expect(find(() => 6, 0, 30, { flareSlope: 0 })).toMatchObject({ fromMm: 0, toMm: 30, inFlare: false });
  });

  it('a slope within twice its standard error is no flare', () => {
    expect(find((s) => 7 + 0.13 * (s - 10), 0, 10)!.inFlare).toBe(true);
    const uneven = (s: number): number => 7 + 0.13 * (s - 10) + 0.2 * Math.cos(3 * s);
    expect(find(uneven, 0, 10, { landingVariation: 0.3 })!.inFlare).toBe(false);
  });

  it('looks over half a calibre if that is more than 2 mm', () => {
    const calibreAt = (s: number): number => 12 + 1.2 * Math.max(0, (s - 57) / 3) ** 2;
    const [half, two] = [0.5, 0].map(
      (flareWindowCalibres) => find(calibreAt, 0, 60, { flareWindowCalibres })!,
    );
    expect(half.toMm).toBeGreaterThan(two.toMm + 0.3);
  });

  /** A round sac of `radiusMm` centred `radiusMm` past 40 mm: it meets the vessel at a sharp edge. */
  const edge = (radiusMm: number) => (s: number) => {
    const within = radiusMm ** 2 - Math.max(0, 40 + Math.sqrt(radiusMm ** 2 - 9) - s) ** 2;
    return Math.max(6, 2 * Math.sqrt(Math.max(0, within)));
  };

  it.each([5, 8, 12, 20])(
    'a sharp edge before a sac of %d mm is removed, to within half a millimetre',
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

  it('what remains after a corner is never less than the minimum zone', () => {
    const zone = closely((s) => edge(8)(s + 0.35), 33.7);
    expect(zone.toMm - zone.fromMm).toBeGreaterThanOrEqual(6);
    expect(zone.inFlare).toBe(false);
  });

  it('what remains: just long enough, and just too short', () => {
    const calibreAt = (s: number): number => mouth(3, 0.7)(s) - 2;
    const takenMm = 40 - closely(calibreAt, 20, { flareCornerMm: 0 }).toMm;
    expect(takenMm).toBeGreaterThan(0.5);
    expect(closely(calibreAt, 40 - takenMm - 5.05)).toMatchObject({ inFlare: false });
    const short = closely(calibreAt, 40 - takenMm - 4.95);
    expect(short.inFlare).toBe(true);
    expect(short.toMm).toBeGreaterThan(40 - takenMm);
  });
});
