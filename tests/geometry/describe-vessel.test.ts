import { expect, it } from 'vitest';
import type { Vec3 } from '../../src/foundation/vector.js';
import { describeVessel, type FollowedVessel } from '../../src/geometry/describe-vessel.js';
import { Polyline } from '../../src/geometry/polyline.js';
import { DEFINITIONS } from './make.js';

/** A vessel that runs 12 mm along x, then 16 mm along y to the sac; even except for its first sections. */
const followed = (more: Partial<FollowedVessel> = {}): FollowedVessel => ({
  name: 'A1',
  role: 'feeder',
  line: new Polyline([
    [0, 0, 0],
    [12, 0, 0],
    [12, 16, 0],
  ]),
  profile: Array.from({ length: 55 }, (_, i) => {
    const atMm = 0.5 + i / 2;
    const equivalentMm = atMm <= 2 ? 4 : 5;
    return {
      atMm,
      equivalentMm,
      minMm: equivalentMm - 0.25,
      maxMm: atMm === 20 ? 5.75 : equivalentMm + 0.25,
      areaMm2: (Math.PI * equivalentMm ** 2) / 4,
    };
  }),
  endMm: 28,
  meetsSac: true,
  branches: [{ name: 'B1', atMm: 8, fromMm: 6, toMm: 10 }],
  edgeMm: 0.3,
  ...more,
});
const inInches = (p: Vec3): Vec3 => [p[0] / 25.4, p[1] / 25.4, p[2] / 25.4];
const described = (more: Partial<FollowedVessel> = {}) =>
  describeVessel(followed(more), DEFINITIONS, { scan: {}, hasAxes: true }, inInches);

it('least, mean and largest calibre are those of the profile', () => {
  // 4 sections of 4 mm and 51 of 5 mm
  expect(described().calibreMm).toEqual({ min: 4, mean: (4 * 4 + 51 * 5) / 55, max: 5 });
});

it('the length is that of the line, the tortuosity is length over the distance between its ends (12, 16, 20)', () => {
  const { lengthMm, tortuosity, centrelineMm, neck } = described();
  expect(lengthMm).toBe(28);
  expect(tortuosity).toBeCloseTo(28 / 20, 12);
  // a point every half millimetre, in file coordinates
  expect(centrelineMm).toHaveLength(57);
  expect(centrelineMm[24]).toEqual(inInches([12, 0, 0]));
  expect(neck).toEqual({ atMm: 28, pointMm: inInches([12, 16, 0]), calibreMm: 5 });
});

it('the landing centre is the point of the line halfway along the zone', () => {
  // from the branch's edge at 10 mm to the neck: the middle lies at 19 mm, 7 mm past the corner
  const { landing } = described();
  expect(landing!.fromMm).toBeCloseTo(10, 6);
  expect(landing!.toMm).toBeCloseTo(28, 6);
  expect(landing!.lengthMm).toBeCloseTo(18, 6);
  landing!.centreMm.forEach((x, k) => {
    expect(x).toBeCloseTo(inInches([12, 7, 0])[k], 4);
  });
  expect(landing!.toBranchMm).toBeCloseTo(0, 6);
  expect(landing!.toSacMm).toBeCloseTo(0, 6);
  expect(landing!.calibreMm).toBeCloseTo(5, 6);
  expect(landing!.largestWidthMm).toBe(5.75);
});

it('no neck, no landing zone; a drain has a neck but no zone', () => {
  const cut = described({ meetsSac: false });
  expect([cut.neck, cut.landing, cut.landingAbsentBecause]).toEqual([undefined, undefined, undefined]);
  const drain = described({ role: 'drain' });
  expect(drain.neck).toBeDefined();
  expect(drain.landing).toBeUndefined();
});

it('says what keeps a zone from fitting: room past the last branch, or past a fused neighbour', () => {
  const branch = { name: 'B2', atMm: 26, fromMm: 25 };
  expect(described({ branches: [{ ...branch, toMm: 28 }] }).landingAbsentBecause).toMatch(/at the neck/);
  expect(described({ branches: [{ ...branch, toMm: 25.5 }] }).landingAbsentBecause).toMatch(
    /^between the last branch and the neck \(2\.5 mm\) no stretch of at least 5 mm/,
  );
  expect(described({ crowded: [{ fromMm: 24, toMm: 25 }] as never }).landingAbsentBecause).toMatch(
    /^between where a neighbour is fused with it and the neck \(3\.0 mm\)/,
  );
});
