import { describe, expect, it } from 'vitest';
import type { LesionPose } from '../../src/compare/lesion-pose.js';
import type { VesselMatch } from '../../src/compare/match-vessels.js';
import { placementRemarks } from '../../src/compare/placement.js';
import { verdictLine, verdictOf, withObstacle } from '../../src/compare/verdict.js';
import { loadRules } from '../../src/rules/load-rules.js';
import { numberOf } from '../../src/rules/rule.js';

const rules = loadRules();
const largestTurn = (): number => numberOf(rules, 'overlay-largest-turn');

const found = (handedness: LesionPose['handedness'], turnDeg = 0): LesionPose =>
  ({ handedness, turnDeg, misfitMm: 7.25, mirrorMisfitMm: 0.25 }) as LesionPose;
const elsewhere = { role: 'feeder', oldName: 'A1', newName: 'A1', matchedBy: 'name-only' } as VesselMatch;
const DOUBT = /A1.*check that it is the same vessel$/;

describe('the position of the new lesion on the old one', () => {
  it.each<[LesionPose['handedness'] | undefined, RegExp[], RegExp[], RegExp[]]>([
    [undefined, [], [DOUBT], []],
    ['same', [], [DOUBT], []],
    ['undecided', [], [DOUBT], [/mirror image.*--overlay/]],
    [
      'mirrored',
      [/is a mirror image of the old one \(.* 0\.3 mm, .* 7\.3 mm\); check surfaces\.frame/],
      [],
      [],
    ],
    [
      'mirrored-or-turned',
      [
        /is a mirror image of the old one, or .*turned by 170° \(.* 0\.3 mm, .* 7\.3 mm\); check surfaces\.frame/,
      ],
      [],
      [],
    ],
    ['unlike', [], [/in (no|any) pose: check that it is one lesion/], []],
  ])('%s: one cause is reported once', (handedness, obstacles, cautions, notes) => {
    const placed = handedness && found(handedness, 170);
    const remarks = placementRemarks(placed, false, [elsewhere], rules);
    const told = (all: RegExp[]) => all.map((one) => expect.stringMatching(one));
    expect(remarks).toEqual({ obstacles: told(obstacles), cautions: told(cautions), notes: told(notes) });
  });

  it('rotated further than a patient lies: only in patient axes, and above the limit', () => {
    const cautions = (turnDeg: number, inPatientAxes: boolean, hand: LesionPose['handedness'] = 'same') =>
      placementRemarks(found(hand, turnDeg), inPatientAxes, [], rules).cautions;
    const beyond = largestTurn() + 1;
    const caution = expect.stringContaining(`turned by ${beyond}° between the scans`);
    expect(cautions(beyond, true)).toEqual([caution]);
    expect(cautions(beyond, true, 'undecided')).toEqual([caution]);
    expect(cautions(beyond, false)).toEqual([]);
    expect(cautions(largestTurn(), true)).toEqual([]);
    expect(cautions(beyond, true, 'mirrored')).toEqual([]);
  });
});

describe('names', () => {
  const match = (oldName?: string, newName?: string): VesselMatch =>
    ({ role: 'feeder', oldName, newName, matchedBy: 'geometry' }) as VesselMatch;
  const named = (...matches: VesselMatch[]) => {
    const { cautions, notes } = placementRemarks(undefined, false, matches, rules);
    return { cautions, notes };
  };
  it('that changed are a note', () => {
    expect(named(match('A1', 'upper'), match('A2', 'A2'))).toEqual({
      cautions: [],
      notes: ['A1 of the old plan is called upper in the new one.'],
    });
  });
  it('that now belong to another vessel are cautions', () => {
    expect(named(match('A1', 'A2'), match('A2', 'A1'))).toEqual({
      cautions: [
        'A1 of the old plan is called A2 in the new one',
        'A2 of the old plan is called A1 in the new one',
      ],
      notes: [],
    });
  });
  it('of vessels that appeared or disappeared are not reported', () => {
    expect(named(match('A1', undefined), match(undefined, 'A3'))).toEqual({ cautions: [], notes: [] });
  });
});

describe('the verdict', () => {
  it.each<[string[], string[], string[], boolean, string, boolean, string]>([
    [[], [], [], true, 'plan stands', true, 'plan stands, unchanged'],
    [[], [], [], false, 'plan stands', false, 'plan stands'],
    [[], [], ['c'], true, 'plan stands', true, 'plan stands, unchanged; caution: c'],
    [[], ['r', 's'], [], true, 'plan changes', false, 'plan changes: r; s'],
    [[], ['r'], ['c'], false, 'plan changes', false, 'plan changes: r; caution: c'],
    [['o'], [], [], true, 'not comparable', false, 'not comparable: o'],
    [['o'], ['r'], ['c'], true, 'not comparable', false, 'not comparable: o; r; caution: c'],
  ])('obstacles %j, reasons %j, cautions %j, nothing else %s: %s', (...row) => {
    const [obstacles, reasons, cautions, nothingElse, verdict, unchanged, line] = row;
    const judged = verdictOf({ obstacles, reasons, cautions, nothingElse });
    expect(judged).toEqual({
      verdict,
      unchanged,
      because: [...obstacles, ...reasons, ...cautions.map((text) => `caution: ${text}`)],
    });
    expect(verdictLine(judged)).toBe(line);
    expect(withObstacle(judged, 'first')).toEqual({
      verdict: 'not comparable',
      unchanged: false,
      because: ['first', ...judged.because],
    });
  });
});
