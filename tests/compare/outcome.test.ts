import { describe, expect, it } from 'vitest';
import { feederChanges, type Course } from '../../src/compare/feeders.js';
import type { VesselMatch } from '../../src/compare/match-vessels.js';
import { treatmentOutcome } from '../../src/compare/treatment-outcome.js';
import type { ShrinkageReading } from '../../src/plan/follow-up-shrinkage.js';
import type { Result } from '../../src/result/result.generated.js';
import { loadRules } from '../../src/rules/load-rules.js';
import { numberOf } from '../../src/rules/rule.js';
import { sourceText } from '../../src/rules/source-text.js';
import { withNumber } from '../rules/with-number.js';

const rules = loadRules();
const NORMAL = numberOf(rules, 'normal-shunt');

interface Scan {
  /** Roles of the vessels on the new scan, by name. */
  vessels?: Record<string, string>;
  feederCount?: number;
  percent?: number;
  upperLimit?: number;
  sac?: boolean;
}
const scan = ({ vessels = {}, feederCount, percent, upperLimit, sac = true }: Scan): Result =>
  ({
    ...(sac && { sac: {} }),
    lesion: { ...(feederCount !== undefined && { feeder_count: feederCount }) },
    vessels: Object.fromEntries(
      Object.entries(vessels).map(([name, role]) => [name, { role, calibre_mm: { mean: 5.25 } }]),
    ),
    ...(percent !== undefined && {
      shunt_after: {
        fraction: percent / 100,
        ...(upperLimit !== undefined && { upper_limit: upperLimit / 100 }),
      },
    }),
  }) as unknown as Result;
const shrunk = (reading: ShrinkageReading['reading']): ShrinkageReading => ({ reading, text: '' });

describe('the effect of a treatment', () => {
  it.each<[string, Scan, ShrinkageReading['reading'] | undefined, string | undefined]>([
    // feeders on the scan decide, whatever shunt and shrinkage say
    ['a feeder', { vessels: { A1: 'feeder' }, percent: 1 }, 'closed', 'open'],
    ['a systemic feeder', { vessels: { S1: 'systemic-feeder' }, percent: 1 }, 'closed', 'open'],
    ['a feeder that is only counted in the case', { feederCount: 1, percent: 1 }, 'closed', 'open'],
    // a drain alone feeds nothing
    ['a drain, normal shunt', { vessels: { V1: 'drain' }, percent: NORMAL }, undefined, 'closed'],
    ['no feeder, normal shunt, shrunk', { percent: NORMAL }, 'closed', 'closed'],
    ['no feeder, only shrinkage known: probably closed', {}, 'probably closed', 'closed'],
    ['no feeder, only shrinkage known: closed', {}, 'closed', 'closed'],
    // anything that contradicts it makes it doubtful
    ['no feeder, high shunt', { percent: NORMAL + 0.1 }, undefined, 'doubtful'],
    ['no feeder, high shunt, shrunk', { percent: NORMAL + 0.1 }, 'closed', 'doubtful'],
    ['no feeder, normal shunt, not shrunk', { percent: 1 }, 'persistence likely', 'doubtful'],
    ['no feeder, normal shunt, hardly shrunk', { percent: 1 }, 'indeterminate', 'doubtful'],
    ['no feeder, nothing else known', { feederCount: 0 }, undefined, 'not known'],
    ['no surfaces', { sac: false, percent: 1 }, 'closed', undefined],
  ])('%s', (_, now, reading, outcome) => {
    const shrinkage = reading && shrunk(reading);
    expect(treatmentOutcome(scan(now), 'treated-between', shrinkage, rules)?.reading).toBe(outcome);
    expect(treatmentOutcome(scan(now), 'treated-before', shrinkage, rules)?.reading).toBe(outcome);
    expect(treatmentOutcome(scan(now), 'untreated', shrinkage, rules)).toBeUndefined();
  });

  it('measured from a vessel alone, without a sac', () => {
    const now = scan({ sac: false, vessels: { V1: 'drain' }, percent: 1 });
    expect(treatmentOutcome(now, 'treated-between', undefined, rules)?.reading).toBe('closed');
  });

  it('the limit is that of the rules, and the text gives shunt and limit', () => {
    const text = (percent: number, limit: number, upperLimit?: number): string =>
      treatmentOutcome(
        scan({ percent, upperLimit }),
        'treated-between',
        undefined,
        withNumber('normal-shunt', limit),
      )!.text;
    expect(text(7.04, 8)).toMatch(/^Closed as far as can be told: .*is 7\.0 %, where up to 8 % is normal/);
    expect(text(7.04, 6)).toMatch(/^Doubtful: .*is 7\.0 %, above the normal 6 %/);
    expect(text(0, 5, 3.24)).toContain('cannot be told from none (at most 3.2 %)');
  });

  it('states in full what is known and what is not', () => {
    const source = sourceText(rules.byId.get('normal-shunt')!.source!);
    const text = (percent?: number, reading?: ShrinkageReading['reading']): string =>
      treatmentOutcome(scan({ percent }), 'treated-between', reading && shrunk(reading), rules)!.text;
    expect(text(3.4, 'closed')).toBe(
      `Closed as far as can be told: no feeding artery is left on the new scan, the shunt after it is 3.4 %, where up to ${NORMAL} % is normal (${source}), and the shrinkage reads as closed. Only an angiogram proves it.`,
    );
    expect(text()).toBe(
      'Not known: no feeding artery is left on the new scan, the shunt after it is not known, and the shrinkage is not known. Absence from the model does not prove closure.',
    );
    expect(text(undefined, 'indeterminate')).toMatch(
      /^Doubtful: no feeding artery .* reads as indeterminate\./,
    );
    expect(source).not.toBe('');
    // gases from after it that give no shunt fraction
    const noShare = { ...scan({}), shunt_after: { method: 'content' } } as unknown as Result;
    expect(treatmentOutcome(noShare, 'treated-between', undefined, rules)?.reading).toBe('not known');
  });

  it('names the feeders that are left', () => {
    const vessels = { A1: 'feeder', V1: 'drain', A2: 'feeder' };
    const { text } = treatmentOutcome(scan({ vessels }), 'treated-between', undefined, rules)!;
    expect(text).toContain('Not closed: A1, A2 still');
  });
});

describe('feeders that appeared, disappeared or stayed open', () => {
  const [old, now] = [
    scan({ vessels: { A1: 'feeder', A2: 'feeder' } }),
    scan({ vessels: { A1: 'feeder', B: 'feeder' } }),
  ];
  const match = (role: string, oldName?: string, newName?: string): VesselMatch =>
    ({
      role,
      matchedBy: 'name',
      ...(oldName !== undefined && { oldName }),
      ...(newName !== undefined && { newName }),
    }) as VesselMatch;
  const changes = (one: VesselMatch, course: Course) => feederChanges(old, now, [one], course, rules);

  it.each<[string | undefined, string | undefined, Course, string | undefined, string]>([
    ['A1', 'A1', 'untreated', undefined, ''],
    ['A1', 'A1', 'treated-before', undefined, ''],
    [
      'A1',
      'A1',
      'treated-between',
      'still-open',
      'A1 (feeding artery, 5.3 mm mean calibre) still carries blood',
    ],
    ['A2', undefined, 'untreated', 'gone', 'may have been left out of the segmentation'],
    ['A2', undefined, 'treated-between', 'gone', 'Absence from the model does not prove closure'],
    [undefined, 'B', 'untreated', 'new', 'it grew, or it was missed'],
    [undefined, 'B', 'treated-between', 'new', 'reperfused from a neighbouring branch, or missed before'],
    [
      undefined,
      'B',
      'treated-before',
      'back',
      'recanalised through its device, or reperfused from a neighbour',
    ],
  ])('%s to %s, %s: %s', (oldName, newName, course, what, words) => {
    const found = changes(match('feeder', oldName, newName), course);
    expect(found.map((one) => one.what)).toEqual(what === undefined ? [] : [what]);
    if (what !== undefined) expect(found[0].text).toContain(words);
  });

  // the old scan has A1 and A2; in the new case only A1 (or A1 and B) has values
  it.each<[number, string[], string, string]>([
    [2, ['A1'], 'not-measured', '1 feeding artery that the new case names has no measurements'],
    [3, ['A1'], 'not-measured', '2 feeding arteries that the new case names have no measurements'],
    [1, ['A1'], 'gone', 'closed, too thin for the scan, or left out of the segmentation'],
    [2, ['A1', 'B'], 'gone', 'closed, too thin for the scan, or left out of the segmentation'],
  ])(
    'of %d feeders that the new case names %j are measured: A2 is %s',
    (feederCount, measured, what, words) => {
      const vessels = { ...Object.fromEntries(measured.map((name) => [name, 'feeder'])), V1: 'drain' };
      const next = scan({ feederCount, vessels });
      const [found] = feederChanges(old, next, [match('feeder', 'A2')], 'treated-between', rules);
      expect([found.name, found.what]).toEqual(['A2', what]);
      expect(found.text).toContain(words);
      expect(found.text.includes('It is not taken for closed')).toBe(what === 'not-measured');
      // the count does not include systemic arteries
      const systemic = feederChanges(old, next, [match('systemic-feeder', 'A2')], 'untreated', rules);
      expect(systemic[0].what).toBe('gone');
    },
  );

  it('a systemic artery that is new after a treatment is a collateral, never a recurrence', () => {
    for (const course of ['treated-between', 'treated-before'] as const) {
      const [one] = changes(match('systemic-feeder', undefined, 'B'), course);
      expect(one).toMatchObject({ what: 'new', text: expect.stringContaining('a systemic collateral') });
      expect(one.text).toMatch(/^B \(systemic feeding artery, 5\.3 mm mean calibre\) was not/);
    }
  });

  it('drains and branches are not feeders', () => {
    for (const role of ['drain', 'branch'])
      expect(changes(match(role, 'A2', undefined), 'treated-between')).toEqual([]);
  });

  it('the shares of mechanisms are those of the rules', () => {
    const told = feederChanges(
      old,
      now,
      [match('feeder', 'A1', 'A1')],
      'treated-between',
      withNumber('persistence-recanalised', 77),
    );
    expect(told[0].text).toMatch(
      /77 % were recanalised .* \(Woodward et al\., Radiology 2013;269:919 \(excerpt\)\)\.$/,
    );
  });
});
