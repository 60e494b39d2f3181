import { describe, expect, it, vi } from 'vitest';
import { add, cross, normalize, scale, subtract, type Vec3 } from '../../src/foundation/vector.js';
import { vesselsOf } from '../../src/phantoms/lesion.js';
import { randomLesion } from '../../src/phantoms/random-lesion.js';
import { type Proposal, proposeSurface } from '../../src/proposal/proposal.js';
import { sharedWays } from '../../src/proposal/refusals.js';
import { DIRECTIONS, framed } from '../../src/proposal/tube.js';
import type { SeedEnd, Vessel } from '../../src/proposal/vessel.js';
import { loadRules } from '../../src/rules/load-rules.js';
import type { Rules } from '../../src/rules/rule.js';
import { IS_LONG } from '../geometry/make.js';
import { withNumber } from '../rules/with-number.js';
import { syntheticCt } from '../witness/synthetic-ct.js';
import { BEND_MM, bendScan } from '../witness/tube-scene.js';
import { pointsOf } from './trial.js';

vi.setConfig({ testTimeout: 600_000, hookTimeout: 600_000 });

const RULES = loadRules();

const onBend = (angle: number): Vec3 => [BEND_MM * Math.cos(angle), BEND_MM * Math.sin(angle), 0];

describe('the limits of a proposal are those of the rules', () => {
  const volume = bendScan();
  const ends: SeedEnd[] = [{ name: 'A1', role: 'feeder', at: onBend(0.1) }];
  const propose = (rules: Rules): Proposal => proposeSurface({ volume, ends, sac: [-8, BEND_MM, 0] }, rules);

  it.each([
    ['proposal-lumen', 400, /^sac: its point is not in an opacified lumen/],
    ['proposal-opacified', 1.5, /^A1: its point is not in an opacified vessel/],
    ['proposal-continuous', 2, /^A1: .* which is not a lumen/],
    ['proposal-least-voxels', 50, /^A1: the vessel is .* too thin/],
    ['proposal-no-wall', -1, /^A1: .* no wall is seen in most directions/],
    ['proposal-contact', 3, /^A1: .* passes a contact/],
    ['proposal-wider', 0.5, /^sac: .* the two cannot be separated/],
  ])('%s of %d refuses an ordinary case', (id, value, words) => {
    expect(() => propose(withNumber(id, value))).toThrow(words);
  });

  it('what is uncertain: low contrast, and a sharp bend, however short', () => {
    const lowContrast = withNumber('proposal-low-contrast', 5000, withNumber('proposal-turn', 0));
    const kinds = (rules: Rules): string[] => propose(rules).unsure.map(({ kind }) => kind);
    expect(new Set(kinds(lowContrast))).toEqual(new Set(['low-contrast', 'sharp-turn']));
    if (IS_LONG)
      expect(kinds(withNumber('proposal-unsure-length', 1000, lowContrast))).toEqual(['sharp-turn']);
  });

  it.runIf(IS_LONG).each([
    ['proposal-hidden', -1, 'neighbour'],
    ['proposal-apart', -1, 'directions-disagree'],
  ])('%s of %d makes all of it uncertain', (id, value, kind) => {
    const { unsure } = propose(withNumber(id, value));
    expect(unsure.map((stretch) => stretch.kind)).toContain(kind);
  });
});

describe('two named vessels may join just before the sac', () => {
  /** A straight 2 mm vessel along a line. */
  const straight = (name: string, from: Vec3, to: Vec3): Vessel => {
    const way = subtract(to, from);
    const count = Math.round(Math.hypot(...way) / 0.5);
    const centres = Array.from({ length: count + 1 }, (_, i) => add(from, scale(way, i / count)));
    const zeros = new Float64Array(count + 1);
    return {
      end: { name, role: 'feeder', at: from },
      tube: {
        ...framed(centres, () => 2),
        radii: new Float64Array((count + 1) * DIRECTIONS).fill(1),
        lumenHu: zeros,
        contrastHu: zeros,
        hidden: zeros,
        bright: zeros,
        apart: zeros,
      },
      start: 0,
      neck: count,
      last: count - 2,
    };
  };

  it.each([
    [4, false],
    [6.5, true],
  ])('%d mm before it, by proposal-join: refused is %s', (joinMm, isRefused) => {
    // A2 meets A1 at a right angle and continues through it to the same neck
    const one = straight('A1', [0, 0, 0], [0, 0, 30]);
    const two = straight('A2', [20, 0, 30 - joinMm], [0, 0, 30 - joinMm]);
    const on = straight('A2', [0, 0, 30 - joinMm], [0, 0, 30]);
    const centres = [...two.tube.centres, ...on.tube.centres.slice(1)];
    const joined: Vessel = { ...straight('A2', [0, 0, 0], [0, 0, (centres.length - 1) / 2]), end: two.end };
    joined.tube = { ...joined.tube, ...framed(centres, () => 2) };
    const volume = bendScan();
    expect(sharedWays(volume, [one, joined], RULES).length > 0).toBe(isRefused);
    expect(sharedWays(volume, [one, joined], withNumber('proposal-join', joinMm + 1))).toEqual([]);
  });
});

describe('a vessel that crosses a feeder and touches it', () => {
  /** A scan of such a lesion, points in the vessel that crosses, on both sides, and the ends as they should be. */
  function touching(seed: number, angleDeg: number, radiusMm: number, overlapMm: number) {
    const plan = {
      ...randomLesion(seed, { feeders: 1, drains: 1, sacRadiusMm: 5, branches: false }),
      neighbours: [],
    };
    const { axis, calibreAt } = vesselsOf(plan).get('A1')!;
    const s = Math.min(12, axis.lengthMm - 14);
    const [place, along] = [axis.pointAt(s), axis.tangentAt(s)];
    const across = normalize(cross(along, normalize(subtract(place, plan.sac.centreMm))));
    const aside = normalize(cross(across, along));
    const angle = (angleDeg * Math.PI) / 180;
    const direction = normalize(add(scale(along, Math.cos(angle)), scale(across, Math.sin(angle))));
    const at = add(place, scale(aside, -(calibreAt(s) / 2 + radiusMm - overlapMm)));
    const volume = syntheticCt(plan, {
      spacing: [0.55, 0.55, 0.55],
      passing: [{ at, along: direction, radiusMm }],
    });
    const ends = pointsOf(plan, seed, 0.5);
    const wrong = [-9, 9].map((mm) => add(at, scale(direction, mm)));
    return { volume, ends, wrong, sac: plan.sac.centreMm };
  }

  const scenes: [number, number, number, number][] = IS_LONG
    ? [3, 5, 7, 8].flatMap((seed) =>
        [
          [90, 1.5, 0.2],
          [60, 1.5, 0.2],
          [40, 2, 0.3],
          [90, 2.5, 0.6],
          [60, 2.5, 0.6],
          [40, 1.2, 0],
        ].map(([angle, radius, overlap]): [number, number, number, number] => [seed, angle, radius, overlap]),
      )
    : [[5, 60, 1.5, 0.2]];

  it.each(scenes)(
    'seed %d, at %d degrees, radius %d mm, %d mm in it: refused by name with the point in it',
    (...scene) => {
      const { volume, ends, wrong, sac } = touching(...scene);
      const [right, ...others] = ends;
      for (const at of IS_LONG ? wrong : wrong.slice(0, 1))
        expect(() => proposeSurface({ volume, ends: [{ ...right, at }, ...others], sac }, RULES)).toThrow(
          /^A1: .*HU were found there, to the sac changes from one vessel to another at \[/,
        );
      const { touching: contacts } = proposeSurface({ volume, ends, sac }, RULES);
      expect(contacts.some(({ of }) => of === 'A1')).toBe(true);
    },
  );
});
