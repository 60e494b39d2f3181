import { describe, expect, it } from 'vitest';
import { mulberry32 } from '../../src/foundation/mulberry32.js';
import {
  type ContrastUse,
  contrastOfSession,
  planSessions,
  type SessionFeeder,
  type SessionLimits,
} from '../../src/patient/sessions.js';

const USE: ContrastUse = { lung: [20, 40], feeder: [15, 40] };
const FREE: SessionLimits = { oneLung: false };

const feeder = (name: string, more: Partial<SessionFeeder> = {}): SessionFeeder => ({
  name,
  lesion: name.split('/')[0],
  side: 'left',
  share: 0.1,
  bleeds: false,
  ...more,
});

/** Every partition of a list into sets, written independently of the search. */
function* partitions<T>(list: readonly T[]): Generator<T[][]> {
  if (list.length === 0) {
    yield [];
    return;
  }
  const [first, ...rest] = list;
  for (const partition of partitions(rest)) {
    yield [[first], ...partition];
    for (let i = 0; i < partition.length; i++)
      yield partition.map((set, k) => (k === i ? [first, ...set] : set));
  }
}

/** Whether a session keeps every limit; a single feeder may always be closed. */
function keeps(set: readonly SessionFeeder[], { mostFeeders, oneLung, contrastMl }: SessionLimits): boolean {
  if (set.length === 1) return true;
  const lungs = new Set(set.map(({ side }) => side)).size;
  if (mostFeeders !== undefined && set.length > mostFeeders) return false;
  if (oneLung && lungs > 1) return false;
  return contrastMl === undefined || 40 * lungs + 40 * set.length <= contrastMl;
}

describe('sessions', () => {
  it('are the fewest of all partitions that keep the limits, for up to 8 feeders', () => {
    const next = mulberry32(11);
    for (let trial = 0; trial < 60; trial++) {
      const count = 1 + Math.floor(8 * next());
      const feeders = Array.from({ length: count }, (_, i) =>
        feeder(`L${Math.floor(3 * next())}/A${i}`, { side: next() < 0.5 ? 'left' : 'right', share: next() }),
      );
      const limits: SessionLimits = {
        oneLung: next() < 0.5,
        ...(next() < 0.6 && { mostFeeders: 1 + Math.floor(4 * next()) }),
        ...(next() < 0.6 && { contrastMl: 60 + Math.floor(240 * next()) }),
      };
      let least = Number.POSITIVE_INFINITY;
      for (const partition of partitions(feeders))
        if (partition.length < least && partition.every((set) => keeps(set, limits)))
          least = partition.length;
      const plan = planSessions(feeders, limits, USE);
      expect(plan.sessions).toHaveLength(least);
      expect(plan.sessions.flat().sort()).toEqual(feeders.map(({ name }) => name).sort());
      const byName = new Map(feeders.map((one) => [one.name, one]));
      for (const names of plan.sessions)
        expect(
          keeps(
            names.map((name) => byName.get(name)!),
            limits,
          ),
        ).toBe(true);
      expect(plan.provenFewest).toBe(true);
    }
  });

  it('there is one session where no limit is stated', () => {
    const feeders = [feeder('a/A1'), feeder('b/A1', { side: 'right' })];
    expect(planSessions(feeders, FREE, USE).sessions).toEqual([['a/A1', 'b/A1']]);
    expect(planSessions([], FREE, USE)).toMatchObject({ sessions: [], least: 0 });
  });

  it('both sides of each limit', () => {
    const feeders = ['a/A1', 'a/A2', 'a/A3', 'a/A4'].map((name) => feeder(name));
    const count = (limits: Partial<SessionLimits>): number =>
      planSessions(feeders, { ...FREE, ...limits }, USE).sessions.length;
    expect([count({ mostFeeders: 4 }), count({ mostFeeders: 3 })]).toEqual([1, 2]);
    // one lung and four feeders: at most 40 + 160 mL
    expect([count({ contrastMl: 200 }), count({ contrastMl: 199 })]).toEqual([1, 2]);
    const both = [feeder('a/A1'), feeder('b/A1', { side: 'right' })];
    expect(planSessions(both, { oneLung: true }, USE).sessions).toHaveLength(2);
  });

  it('closes first what bleeds, then what carries most flow, and keeps a lesion together', () => {
    const feeders = [
      feeder('a/A1', { share: 0.2 }),
      feeder('b/A1', { share: 0.5, side: 'right' }),
      feeder('c/A1', { share: 0.3 }),
    ];
    const limits = { ...FREE, mostFeeders: 1 };
    expect(planSessions(feeders, limits, USE).sessions).toEqual([['b/A1'], ['c/A1'], ['a/A1']]);
    const bleeding = feeders.map((one) => (one.lesion === 'a' ? { ...one, bleeds: true } : one));
    expect(planSessions(bleeding, limits, USE).sessions[0]).toEqual(['a/A1']);
    const split = [
      feeder('a/A1', { share: 0.4 }),
      feeder('b/A1', { share: 0.3 }),
      feeder('a/A2', { share: 0.2 }),
      feeder('b/A2', { share: 0.1 }),
    ];
    expect(planSessions(split, { ...FREE, mostFeeders: 2 }, USE).sessions).toEqual([
      ['a/A1', 'a/A2'],
      ['b/A1', 'b/A2'],
    ]);
  });

  it('says what one limit costs, and which feeder alone exceeds one', () => {
    const both = [feeder('a/A1'), feeder('b/A1', { side: 'right' })];
    expect(planSessions(both, { oneLung: true, mostFeeders: 4 }, USE).without).toEqual([
      { limit: 'one_lung', sessions: 1 },
    ]);
    expect(planSessions(both, { oneLung: false, contrastMl: 79, contrastOf: 'patient' }, USE).above).toEqual([
      { feeder: 'a/A1', limit: 'contrast_limit', of: 'patient', contrastMl: 80, limitMl: 79 },
      { feeder: 'b/A1', limit: 'contrast_limit', of: 'patient', contrastMl: 80, limitMl: 79 },
    ]);
    expect(planSessions(both, { oneLung: false, contrastMl: 80 }, USE).above).toEqual([]);
  });

  it('a feeder above the limits of both hospital and patient is reported against the patient’s, whichever is smaller', () => {
    const one = [feeder('a/A1')];
    const above = (more: Partial<SessionLimits>) => planSessions(one, { ...FREE, ...more }, USE).above;
    expect(above({ contrastMl: 70, contrastOf: 'hospital', patientContrastMl: 79 })).toMatchObject([
      { of: 'patient', limitMl: 79 },
    ]);
    expect(above({ contrastMl: 70, contrastOf: 'hospital', patientContrastMl: 80 })).toMatchObject([
      { of: 'hospital', limitMl: 70 },
    ]);
    expect(above({ patientContrastMl: 79 })).toMatchObject([{ of: 'patient', limitMl: 79 }]);
    expect(above({ patientContrastMl: 80 })).toEqual([]);
  });

  it('for many feeders keeps the limits and says whether fewer sessions may be possible', () => {
    const feeders = Array.from({ length: 30 }, (_, i) =>
      feeder(`L${i % 7}/A${i}`, { side: i % 2 ? 'left' : 'right', share: 1 / (i + 2) }),
    );
    const limits: SessionLimits = { oneLung: true, mostFeeders: 4 };
    const plan = planSessions(feeders, limits, USE);
    expect(plan.least).toBe(8);
    expect(plan.sessions.flat()).toHaveLength(30);
    expect(plan.sessions.length).toBe(8);
    expect(plan.provenFewest).toBe(true);
  });

  it('contrast counts each lung and each feeder', () => {
    expect(contrastOfSession([{ side: 'left' }, { side: 'left' }], USE)).toEqual([50, 120]);
    expect(contrastOfSession([{ side: 'left' }, { side: 'right' }], USE)).toEqual([70, 160]);
  });
});
