/** One feeder that is to be closed through a catheter. */
export interface SessionFeeder {
  /** `LESION/NAME`. */
  name: string;
  lesion: string;
  side?: 'left' | 'right';
  /** Its share of the flow through all lesions, 0..1; 0 if unknown. */
  share: number;
  bleeds: boolean;
}

/** The binding limits of one session. */
export interface SessionLimits {
  contrastMl?: number;
  /** Whose limit it is: if one feeder alone exceeds it, the hospital's limit gives a caution and the patient's a stop. */
  contrastOf?: 'hospital' | 'patient';
  /** The patient's smallest limit, mL, even if another limit or none binds. */
  patientContrastMl?: number;
  oneLung: boolean;
  mostFeeders?: number;
}

/** Contrast of a session, mL: for each lung, and for each feeder. */
export interface ContrastUse {
  lung: readonly [low: number, high: number];
  feeder: readonly [low: number, high: number];
}

export type LimitName = 'contrast_limit' | 'one_lung' | 'most_feeders';

export interface SessionPlan {
  /** Names of the feeders of each session, in the order of the sessions. */
  sessions: string[][];
  /** False if there were too many feeders for an exact search; `least` is then a bound. */
  provenFewest: boolean;
  /** Least number of sessions needed. */
  least: number;
  /** Feeders that alone exceed a limit. */
  above: {
    feeder: string;
    limit: 'contrast_limit';
    of: 'hospital' | 'patient';
    contrastMl: number;
    limitMl: number;
  }[];
  /** How many sessions would be enough without one of the limits, if that is fewer. */
  without: { limit: LimitName; sessions: number }[];
}

/** Greatest number of feeders for an exact search, which takes 3^n steps. */
const EXACT_UP_TO = 12;

/**
 * The fewest sessions that keep every limit; among those the ones that split the fewest lesions, and then those that first close bleeding
 * lesions and those that carry most of the shunt. The risk of stroke remains until the last session, so their number comes first.
 *
 * Method   exact over all sets of feeders (dynamic programming) up to 12 of them, else first fit by descending importance with a lower
 *          bound; ties are broken by the order of the feeders
 * Checked  tests/patient/sessions.test.ts against an enumeration of all partitions
 */
export function planSessions(
  feeders: readonly SessionFeeder[],
  limits: SessionLimits,
  contrast: ContrastUse,
): SessionPlan {
  const above = aboveAlone(feeders, limits, contrast);
  const found = fewest(feeders, limits, contrast);
  const without = (['contrast_limit', 'one_lung', 'most_feeders'] as const).flatMap((limit) => {
    if (!isSet(limits, limit)) return [];
    const relaxed = fewest(feeders, withoutLimit(limits, limit), contrast);
    return relaxed.sessions.length < found.sessions.length
      ? [{ limit, sessions: relaxed.sessions.length }]
      : [];
  });
  return { ...found, above, without };
}

/** Contrast of one session, mL. */
export function contrastOfSession(
  feeders: readonly Pick<SessionFeeder, 'side'>[],
  { lung, feeder }: ContrastUse,
): [low: number, high: number] {
  const lungs = new Set(feeders.map(({ side }) => side ?? 'unknown')).size;
  return [0, 1].map((k) => lungs * lung[k] + feeders.length * feeder[k]) as [number, number];
}

function isSet(limits: SessionLimits, limit: LimitName): boolean {
  if (limit === 'one_lung') return limits.oneLung;
  return (limit === 'contrast_limit' ? limits.contrastMl : limits.mostFeeders) !== undefined;
}

function withoutLimit(limits: SessionLimits, limit: LimitName): SessionLimits {
  if (limit === 'one_lung') return { ...limits, oneLung: false };
  return limit === 'contrast_limit'
    ? { ...limits, contrastMl: undefined }
    : { ...limits, mostFeeders: undefined };
}

/** Exceeding the patient's limit outweighs exceeding the hospital's, whichever is smaller. */
function aboveAlone(
  feeders: readonly SessionFeeder[],
  { contrastMl, contrastOf, patientContrastMl }: SessionLimits,
  contrast: ContrastUse,
): SessionPlan['above'] {
  const patientMl = patientContrastMl ?? (contrastOf === 'patient' ? contrastMl : undefined);
  const limits = [
    { of: 'patient' as const, limitMl: patientMl },
    { of: 'hospital' as const, limitMl: contrastMl },
  ];
  return feeders.flatMap((one) => {
    const [, most] = contrastOfSession([one], contrast);
    for (const { of, limitMl } of limits)
      if (limitMl !== undefined && most > limitMl)
        return [{ feeder: one.name, limit: 'contrast_limit' as const, of, contrastMl: most, limitMl }];
    return [];
  });
}

/** Whether feeders may be closed in one session. A single feeder always may; a limit that it exceeds is reported separately. */
function isAllowed(set: readonly SessionFeeder[], limits: SessionLimits, contrast: ContrastUse): boolean {
  if (set.length === 1) return true;
  if (limits.mostFeeders !== undefined && set.length > limits.mostFeeders) return false;
  if (limits.oneLung && new Set(set.map(({ side }) => side ?? 'unknown')).size > 1) return false;
  return limits.contrastMl === undefined || contrastOfSession(set, contrast)[1] <= limits.contrastMl;
}

type Found = Pick<SessionPlan, 'sessions' | 'provenFewest' | 'least'>;

function fewest(feeders: readonly SessionFeeder[], limits: SessionLimits, contrast: ContrastUse): Found {
  if (feeders.length === 0) return { sessions: [], provenFewest: true, least: 0 };
  return feeders.length <= EXACT_UP_TO
    ? exact(feeders, limits, contrast)
    : firstFit(feeders, limits, contrast);
}

interface Best {
  count: number;
  splits: number;
  cost: number;
  last: number;
}

const isBetter = (a: Best, b: Best): boolean =>
  a.count !== b.count
    ? a.count < b.count
    : a.splits !== b.splits
      ? a.splits < b.splits
      : a.cost < b.cost - 1e-12;

function exact(feeders: readonly SessionFeeder[], limits: SessionLimits, contrast: ContrastUse): Found {
  const n = feeders.length;
  const all = (1 << n) - 1;
  const of = (mask: number): SessionFeeder[] => feeders.filter((_, i) => mask & (1 << i));
  const allowed = Array.from(
    { length: all + 1 },
    (_, mask) => mask > 0 && isAllowed(of(mask), limits, contrast),
  );
  const weights = Array.from({ length: all + 1 }, (_, mask) =>
    of(mask).reduce((sum, one) => sum + importance(one), 0),
  );
  const lesions = [...new Set(feeders.map(({ lesion }) => lesion))].map((id) =>
    feeders.reduce((mask, { lesion }, i) => (lesion === id ? mask | (1 << i) : mask), 0),
  );
  /** Lesions that a session closes only in part. */
  const splitsOf = (session: number, done: number): number =>
    lesions.filter((lesion) => (lesion & session) !== 0 && (lesion & ~(session | done)) !== 0).length;
  const best: (Best | undefined)[] = [{ count: 0, splits: 0, cost: 0, last: 0 }];
  for (let mask = 1; mask <= all; mask++)
    for (let session = mask; session > 0; session = (session - 1) & mask) {
      const before = best[mask & ~session];
      if (!allowed[session] || before === undefined) continue;
      const count = before.count + 1;
      const tried = {
        count,
        splits: before.splits + splitsOf(session, mask & ~session),
        cost: before.cost + count * weights[session],
        last: session,
      };
      const known = best[mask];
      if (known === undefined || isBetter(tried, known)) best[mask] = tried;
    }
  const sessions: string[][] = [];
  for (let mask = all; mask > 0; mask &= ~(best[mask] as Best).last)
    sessions.unshift(of((best[mask] as Best).last).map(({ name }) => name));
  return { sessions, provenFewest: true, least: sessions.length };
}

/** Bleeding lesions first, then those with the largest share. */
const importance = ({ share, bleeds }: SessionFeeder): number => share + (bleeds ? 1000 : 0);

function firstFit(feeders: readonly SessionFeeder[], limits: SessionLimits, contrast: ContrastUse): Found {
  const sorted = [...feeders].sort((a, b) => importance(b) - importance(a));
  const sessions: SessionFeeder[][] = [];
  for (const one of sorted) {
    const room = sessions.find((session) => isAllowed([...session, one], limits, contrast));
    if (room) room.push(one);
    else sessions.push([one]);
  }
  const order = new Map(feeders.map(({ name }, i) => [name, i]));
  const least = lowerBound(feeders, limits, contrast);
  return {
    sessions: sessions.map((session) =>
      session.map(({ name }) => name).sort((a, b) => (order.get(a) as number) - (order.get(b) as number)),
    ),
    provenFewest: sessions.length === least,
    least,
  };
}

/** A lower bound on the sessions: each limit considered alone, and each lung separately if only one is treated per session. */
function lowerBound(
  feeders: readonly SessionFeeder[],
  limits: SessionLimits,
  { lung, feeder }: ContrastUse,
): number {
  const groups = limits.oneLung
    ? [...new Set(feeders.map(({ side }) => side))].map((side) => feeders.filter((one) => one.side === side))
    : [feeders];
  return groups.reduce((sum, { length }) => {
    const byContrast =
      limits.contrastMl === undefined
        ? length
        : Math.max(1, Math.floor((limits.contrastMl - lung[1]) / feeder[1]));
    const most = Math.min(limits.mostFeeders ?? length, byContrast);
    return sum + Math.ceil(length / Math.max(1, most));
  }, 0);
}
