import { describe, expect, it } from 'vitest';
import { contrastClear } from '../../src/patient/contrast-clear.js';
import { sessionAlternatives } from '../../src/patient/session-alternatives.js';
import type { LimitsInForce } from '../../src/patient/session-limits.js';
import { type ContrastUse, planSessions, type SessionFeeder } from '../../src/patient/sessions.js';
import { RULES } from '../physiology/make.js';

const USE: ContrastUse = { lung: [20, 40], feeder: [15, 40] };
const FREE: LimitsInForce = { oneLung: false, gapDays: 28, gapBinds: false };
const feeder = (name: string, side: 'left' | 'right'): SessionFeeder => ({
  name,
  lesion: name.split('/')[0],
  side,
  share: 0.25,
  bleeds: false,
});

describe('contrast within 72 hours', () => {
  const days = [
    { on: '2026-05-04', most: 80 },
    { on: '2026-05-05', most: 80 },
    { on: '2026-05-06', most: 80 },
  ];

  it('adds up over more than two sessions; the date waits until enough time has passed', () => {
    // 4, 5 and 6 May are all within three days of 6 May: 320 mL; from 7 May the 4th no longer counts
    expect(contrastClear('2026-05-06', days, 80, 320, 3)).toBe('2026-05-06');
    expect(contrastClear('2026-05-06', days, 80, 319, 3)).toBe('2026-05-07');
    expect(contrastClear('2026-05-06', days, 80, 80, 3)).toBe('2026-05-09');
  });

  it('a session above the limit by itself waits until all others are past; without a limit nothing waits', () => {
    expect(contrastClear('2026-05-06', days, 200, 100, 3)).toBe('2026-05-09');
    expect(contrastClear('2026-05-06', days, 200, undefined, 3)).toBe('2026-05-06');
  });
});

describe('alternatives that respect a preference', () => {
  const feeders = [feeder('a/A1', 'left'), feeder('a/A2', 'left'), feeder('b/A1', 'right')];
  const alternatives = (limits: LimitsInForce) =>
    sessionAlternatives(feeders, planSessions(feeders, limits, USE), limits, USE, RULES);

  it('one lung per session and the limit of the patient, each with its price', () => {
    // both lungs and three feeders: 200 mL in one session
    expect(alternatives({ ...FREE, patientContrastMl: 199, patientContrastFrom: 'formula' })).toMatchObject([
      {
        keeps: 'one_lung',
        sessions: [['a/A1', 'a/A2'], ['b/A1']],
        more_sessions: 1,
        more_days: 28,
      },
      { keeps: 'contrast_limit', more_sessions: 1, more_days: 28 },
    ]);
    expect(alternatives({ ...FREE, patientContrastMl: 200 }).map(({ keeps }) => keeps)).toEqual(['one_lung']);
  });

  it('none where the plan respects them', () => {
    expect(alternatives({ ...FREE, oneLung: true })).toEqual([]);
  });
});
