import { fixed } from '../foundation/number-text.js';
import type { PatientResult } from '../result/patient-result.js';
import { numberOf, type Rules } from '../rules/rule.js';
import type { LimitsInForce } from './session-limits.js';
import {
  type ContrastUse,
  contrastOfSession,
  planSessions,
  type SessionFeeder,
  type SessionPlan,
} from './sessions.js';

type Alternative = NonNullable<PatientResult['sessions_alternatives']>[number];

/**
 * Plans that would also keep a preference that is not written as a limit, with their cost in sessions and days (the gap for each extra
 * session). A preference that the plan already keeps gives none.
 */
export function sessionAlternatives(
  feeders: readonly SessionFeeder[],
  plan: Pick<SessionPlan, 'sessions'>,
  limits: LimitsInForce,
  use: ContrastUse,
  rules: Pick<Rules, 'byId'>,
): Alternative[] {
  const byName = new Map(feeders.map((one) => [one.name, one]));
  const sets = plan.sessions.map((names) => names.map((name) => byName.get(name) as SessionFeeder));
  const found: Alternative[] = [];
  const add = (keeps: Alternative['keeps'], more: Partial<LimitsInForce>, what: string): void => {
    const { sessions } = planSessions(feeders, { ...limits, ...more }, use);
    const extra = sessions.length - plan.sessions.length;
    const days = extra * limits.gapDays;
    const price =
      extra === 0
        ? 'no session more'
        : `${fixed(extra, 0)} ${extra === 1 ? 'session' : 'sessions'} more${days > 0 ? `, at least ${fixed(days, 0)} days longer with a feeder open` : ''}`;
    found.push({
      keeps,
      text: `${what}: ${sessions.map((names) => names.join(' + ')).join('; then ')}. Price: ${price} (common practice, no source).`,
      sessions,
      more_sessions: extra,
      more_days: days,
    });
  };
  const lungs = numberOf(rules, 'session-preferred-lungs');
  if (!limits.oneLung && sets.some((set) => new Set(set.map(({ side }) => side ?? 'unknown')).size > lungs))
    add('one_lung', { oneLung: true }, 'One lung a session');
  const { contrastMl, patientContrastMl: own, patientContrastFrom: from } = limits;
  if (
    contrastMl === undefined &&
    own !== undefined &&
    sets.some((set) => set.length > 1 && contrastOfSession(set, use)[1] > own)
  )
    add(
      'contrast_limit',
      { contrastMl: own, contrastOf: 'patient' },
      `The patient's limit of contrast kept (${fixed(own, 0)} mL, ${from})`,
    );
  return found;
}
