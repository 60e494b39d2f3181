import { describe, expect, it } from 'vitest';
import { findLandingZone } from '../../src/geometry/landing-zone.js';
import type { MeasureDefinitions } from '../../src/geometry/measure.js';
import { DEFINITIONS, profileAlong } from './make.js';

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
    expect(zone.toMm).toBeGreaterThan(37.4);
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
