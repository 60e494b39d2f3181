import { expect, it } from 'vitest';
import type { VesselMeasure } from '../../src/geometry/measure.js';
import { loadRules } from '../../src/rules/load-rules.js';
import { numberOf } from '../../src/rules/rule.js';
import { missedFindings } from '../../src/witness/missed-findings.js';
import type { MissedVessel } from '../../src/witness/missed-vessels.js';
import { landing, vessel } from '../resection/make.js';

const RULES = loadRules();

const missedOf = (more: Partial<MissedVessel>): MissedVessel => ({
  kind: 'side-branch',
  joins: 'A1',
  pointMm: [1, 2, 3],
  calibreMm: 2,
  lengthMm: 12,
  leadsToMm: [4, 5, 6],
  endMm: [3, 4, 5],
  ...more,
});
const said = (missed: readonly MissedVessel[], vessels: readonly VesselMeasure[] = []) =>
  missedFindings(missed, [], vessels, RULES).map(({ id, level, where }) => `${level} ${id} ${where}`);

it('a feeder candidate stops the plan from the calibre on that is treated', () => {
  const limit = numberOf(RULES, 'smallest-usual-feeder');
  const of = (calibreMm: number) => said([missedOf({ kind: 'feeder-candidate', joins: 'sac', calibreMm })]);
  expect(of(limit - 0.01)).toEqual(['caution feeder-not-segmented sac']);
  expect(of(limit)).toEqual(['stop feeder-not-segmented sac']);
});

it('one that leaves close to the neck is unclear, a caution with its place', () => {
  const [found] = missedFindings([missedOf({ kind: 'unclear', joins: 'A2' })], [], [], RULES);
  expect(found).toMatchObject({ id: 'missed-unclear', level: 'caution', where: 'A2' });
  expect(found.text).toContain('2.0 mm wide at [1.0, 2.0, 3.0] mm, followed for 12 mm');
});

it('a side branch is a caution where its opening extends into the landing zone, otherwise one note for all', () => {
  // the zone extends from 22 to 40 mm; an opening of 2 mm extends 1 mm to either side
  const vessels = [vessel('A1', { landing: landing({ fromMm: 22, toMm: 40 }) })];
  const at = (joinsAtMm: number) => said([missedOf({ joinsAtMm })], vessels);
  const inside = ['caution missed-branch-in-zone A1'];
  const outside = ['note missed-side-branches scan.series'];
  expect([20.99, 21.01, 40.99, 41.01].map(at)).toEqual([outside, inside, inside, outside]);
  const both = [missedOf({ joinsAtMm: 30 }), missedOf({ joinsAtMm: 5 }), missedOf({ joins: 'V1' })];
  expect(said(both, vessels)).toEqual([...inside, ...outside]);
  expect(missedFindings(both, [], vessels, RULES)[1].text).toMatch(/^3 opacified side branches lie/);
});
