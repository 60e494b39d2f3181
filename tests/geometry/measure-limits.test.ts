import { describe, expect, it } from 'vitest';
import type { Finding } from '../../src/foundation/finding.js';
import type { Vec3 } from '../../src/foundation/vector.js';
import type { FollowedVessel } from '../../src/geometry/describe-vessel.js';
import { wayFault } from '../../src/geometry/lumen.js';
import type { UnnamedEnd } from '../../src/geometry/measure.js';
import { Polyline } from '../../src/geometry/polyline.js';
import { Surface } from '../../src/geometry/surface.js';
import { doubtOfBody, isFaulty } from '../../src/geometry/whole/doubts.js';
import { doubtsOfNeck } from '../../src/geometry/whole/profile-to-neck.js';
import type { Tracked } from '../../src/geometry/whole/tracked-vessel.js';
import { helixCurve, lineCurve } from '../../src/phantoms/curve.js';
import { roundTube, sweptTube } from '../../src/phantoms/tube.js';
import { numberOf } from '../../src/rules/rule.js';
import { withNumber } from '../rules/with-number.js';
import { capsule } from './end-shapes.js';
import { DEFINITIONS, profileOf, RULES } from './make.js';

const limit = (id: string): number => numberOf(RULES, id);

describe('the neck of one surface', () => {
  /** What is reported of a neck at 20 mm before which the calibre rises evenly, to 1.25 times the median there. */
  const said = (slope: number, rules = RULES): Finding | undefined => {
    // the median is 4 mm: 0.1 of it more lies 0.4 mm / slope farther
    const neckAt = (ratio: number): number => 20 + (4 * (ratio - limit('neck-calibre-ratio'))) / slope;
    const line = new Polyline([
      [0, 0, 0],
      [30, 0, 0],
    ]);
    const vessel = { end: { name: 'A1' } } as Tracked;
    return doubtsOfNeck(20, neckAt, slope, line, vessel, 4, rules.measure)[0];
  };
  const slope = limit('neck-soft-slope');

  it('is soft below neck-soft-slope', () => {
    expect(said(slope)).toBeUndefined();
    expect(said(slope - 0.01)).toMatchObject({ id: 'neck-soft', level: 'caution', where: 'A1' });
    expect(said(slope, withNumber('neck-soft-slope', slope + 0.01))).toBeDefined();
  });

  it('then lies within the range of neck-soft-margin', () => {
    // 4 mm * 0.05 / 0.2 = 1 mm to either side; four times as much with a margin of 0.2
    expect(said(0.2)!.text).toContain(
      'With 1.20 to 1.30 instead of 1.25 times the median it is between 19.0 and 21.0 mm',
    );
    expect(said(0.2, withNumber('neck-soft-margin', 0.2))!.text).toContain('it is between 16.0 and 24.0 mm');
  });
});

describe('a line longer than longest-way times the shortest path', () => {
  it.each([
    ['straight', [0, 0, 0] as Vec3, false],
    ['with a detour to the side', [0, 2.6, 0] as Vec3, true],
  ])('%s', (_, aside, isFault) => {
    const tube = new Surface(
      sweptTube(
        roundTube(lineCurve([0, 0, 0], [30, 0, 0]), () => 6),
        { around: 32 },
      ),
      [0, 0, 0],
    );
    const points = Array.from({ length: 13 }, (_, i): Vec3 => [2.5 * i, i % 2 ? aside[1] : -aside[1], 0]);
    const fault = wayFault(tube, new Polyline(points), 6, limit('longest-way'));
    expect(fault !== undefined).toBe(isFault);
  });
});

describe('what lies between the necks', () => {
  const unnamed = [{ leadsTo: 'sac' }] as UnnamedEnd[];
  const ratio = limit('sac-longest-ratio');
  const RADIUS_MM = 4;
  const doubt = (timesWide: number, ends = unnamed): string | undefined => {
    const longestMm = timesWide * 2 * RADIUS_MM;
    const body = new Surface(capsule(RADIUS_MM, longestMm - 2 * RADIUS_MM, 16), [0, 0, 0]);
    return doubtOfBody(body, longestMm, ends, ratio);
  };

  it('is not a sac above sac-longest-ratio where unnamed vessels lead into it', () => {
    // the largest ball in a faceted body is up to 3 % smaller than that in a round one
    expect(doubt(ratio * 0.95)).toBeUndefined();
    expect(doubt(ratio * 1.01)).toMatch(/an unnamed vessel leads into it/);
    expect(doubt(ratio * 1.01, [])).toBeUndefined();
  });
});

describe('vessel-long', () => {
  /** Three turns of this radius, in a tube of 4 mm; a rise of 8 mm per turn keeps them apart. */
  const said = (radiusMm: number): Finding[] => {
    const curve = helixCurve([0, 0, 0], [0, 0, 1], radiusMm, 8, 3);
    const points = Array.from({ length: 301 }, (_, i) => curve.pointAt((i * curve.lengthMm) / 300));
    const line = new Polyline(points);
    const surface = new Surface(
      sweptTube(
        roundTube(curve, () => 4),
        { around: 24 },
      ),
      [0, 0, 0],
    );
    const profile = profileOf(Array.from({ length: Math.ceil(line.lengthMm) }, () => 4));
    const vessel = { name: 'A1', line, profile, endMm: line.lengthMm, branches: [] };
    const findings: Finding[] = [];
    const rings = [{ centre: points[0] }];
    const fault = isFaulty(
      surface,
      vessel as unknown as FollowedVessel,
      { rings } as unknown as Tracked,
      new Map(),
      DEFINITIONS,
      findings,
    );
    expect(fault).toBe(false);
    return findings;
  };

  it('a vessel that winds more than the size of its box: a caution, and none below the limit', () => {
    // three turns: 6 pi r against 4 r + 36 mm or so
    const [found, ...others] = said(8);
    expect(others).toEqual([]);
    expect(found).toMatchObject({ id: 'vessel-long', level: 'caution', where: 'A1' });
    const [, lineMm, boxMm] = /centreline, (\S+) mm, .* \((\S+) mm\)/.exec(found.text)!.map(Number);
    expect(lineMm).toBeCloseTo(3 * Math.hypot(16 * Math.PI, 8), 0);
    expect(lineMm).toBeGreaterThan(boxMm);
    expect(said(1.6)).toEqual([]);
  });
});
