import { isMap, isScalar, isSeq } from 'yaml';
import { nearestKey } from '../foundation/nearest-key.js';
import { quoted } from '../foundation/quoted-text.js';
import { COMMON_PRACTICE, SOURCES } from '../reference/sources.js';
import type { Condition } from './condition.js';
import { FACTS } from './facts.js';
import { readCondition } from './read-condition.js';
import type { Rule, RuleKind } from './rule.js';
import { entries, flagAt, numberAt, problem, type RuleText, textAt, wordAt, wordsAt } from './rule-node.js';
import { placesOf } from './template.js';

/** Source of a rule that only defines the meaning of a word. */
export const OWN_DEFINITION = 'definition of this tool';

/** The extent of an operation: a lobe, two lobes of the right lung, segments of a lobe, or a wedge. */
const LOBES = ['upper', 'middle', 'lingula', 'lower', 'upper-middle', 'middle-lower', 'segments', 'wedge'];
const SIDES = ['left', 'right'];
const DEVICE_KINDS = ['vascular-plug', 'micro-plug', 'detachable-coil', 'pushable-coil'];
const LEVELS = ['stop', 'caution', 'note'] as const;
const CASE_LEVELS = ['stop', 'caution', 'note', 'ok'] as const;
const ASK_LEVELS = ['caution', 'note'] as const;
const MOMENTS = ['planning', 'sign-in', 'time-out', 'sign-out', 'after'] as const;
const ABOUT = ['feeder', 'if-none', 'patient'] as const;
const RECOMMENDATIONS = ['embolise', 'resect', 'discuss'] as const;
const DIRECTIONS = ['a-to-b', 'b-to-a', 'stop-and-discuss'] as const;
/** A hundred years. */
const MOST_DAYS = 36525;
const SEEN = ['feeder', 'landing', 'sac', 'drain', 'branch', 'systemic-feeder', 'airway'];

const COMMON_KEYS = ['id', 'kind', 'text', 'source'];

/** Keys of each kind in addition to the common ones; with `?` if they are optional. */
const KEYS: Record<RuleKind, string[]> = {
  number: ['value', 'unit'],
  window: ['for', 'low', 'high'],
  order: ['kinds', 'when'],
  advice: ['about', 'level', 'when'],
  step: ['lobes', 'sides', 'stage', 'see?', 'when?'],
  keep: ['lobes', 'sides', 'name'],
  item: ['moment', 'concerns?', 'waits?', 'cases', 'ask'],
  decision: ['recommend', 'when', 'elective?', 'beside?'],
  trigger: ['direction', 'concerns?', 'when?', 'because?'],
  need: ['plan', 'met?', 'when?', 'missing?', 'blocks?'],
  'follow-up': ['from_days?', 'to_days?', 'when?'],
  sentence: ['section', 'parent?', 'when?'],
  urgent: ['when?'],
};
const KINDS = Object.keys(KEYS) as RuleKind[];

/** Reads one rule; a fault is noted as a problem and returns undefined. */
export function readRule(at: RuleText, node: unknown, origin: string): Rule | undefined {
  if (!isMap(node)) {
    problem(at, node, 'a rule is a map with id, kind, text and source.');
    return undefined;
  }
  const before = at.problems.length;
  const kind = wordAt(at, node.get('kind', true) ?? node, KINDS, 'rule kind');
  if (kind === undefined) return undefined;
  const own = KEYS[kind].map((key) => key.replace('?', ''));
  const idNode = node.get('id', true);
  const id = isScalar(idNode) ? String(idNode.value) : '';
  if (!/^[a-z0-9]+(-[a-z0-9]+)*$/.test(id)) {
    problem(at, idNode ?? node, `rule id ${quoted(id)}: lower-case words joined by hyphens are needed.`);
  }
  if (at.problems.length > before) return undefined;
  const what = `rule ${id}`;
  const found = entries(at, node, [...COMMON_KEYS, ...own], what);
  for (const key of [...COMMON_KEYS, ...KEYS[kind]]) {
    if (!key.endsWith('?') && !found.has(key)) problem(at, node, `${what}: the key "${key}" is missing.`);
  }
  if (at.problems.length > before) return undefined;
  const text = textAt(at, found.get('text'), `${what}, text`) ?? '';
  checkPlaces(at, found.get('text'), text, what);
  const source = readSource(at, found.get('source'), origin, what);
  const base = { id, text, source, origin };
  const when = found.has('when') ? readCondition(at, found.get('when'), `${what}, when`) : undefined;
  const rule = READERS[kind]({ at, found, base, what, when });
  return at.problems.length > before ? undefined : rule;
}

type Base = Pick<Rule, 'id' | 'text' | 'source' | 'origin'>;

/** Input for reading one kind of rule. */
interface Reading {
  at: RuleText;
  found: Map<string, unknown>;
  base: Base;
  what: string;
  /** Its condition, if it has one. */
  when?: Condition;
}

type OfKind<K extends RuleKind> = Extract<Rule, { kind: K }>;

/** Reads each kind of rule from its keys; a fault is noted as a problem, and returns undefined if no rule can be made of it. */
const READERS: { [K in RuleKind]: (reading: Reading) => OfKind<K> | undefined } = {
  number: readNumber,
  window: readWindow,
  order: ({ at, found, base, what, when }) => {
    const kinds = wordsAt(at, found.get('kinds'), DEVICE_KINDS, `${what}, kinds`);
    return when && { ...base, kind: 'order', kinds, when };
  },
  advice: ({ at, found, base, what, when }) => {
    const about = wordAt(at, found.get('about'), ABOUT, `${what}, about`);
    const level = wordAt(at, found.get('level'), LEVELS, `${what}, level`);
    return about && level && when && { ...base, kind: 'advice', about, level, when };
  },
  step: (reading) => {
    const { at, found, base, what, when } = reading;
    const stage = textAt(at, found.get('stage'), `${what}, stage`) ?? '';
    const see = found.has('see') ? wordsAt(at, found.get('see'), SEEN, `${what}, see`) : [];
    return { ...base, kind: 'step', ...lobesAndSides(reading), stage, see, ...(when && { when }) };
  },
  keep: (reading) => {
    const { at, found, base, what } = reading;
    const name = textAt(at, found.get('name'), `${what}, name`) ?? '';
    return { ...base, kind: 'keep', ...lobesAndSides(reading), name };
  },
  item: readItem,
  decision: (reading) => {
    const { at, found, base, what, when } = reading;
    const recommend = wordAt(at, found.get('recommend'), RECOMMENDATIONS, `${what}, recommend`);
    const elective = flagOf(reading, 'elective');
    return (
      recommend &&
      when && { ...base, kind: 'decision', recommend, when, elective, beside: flagOf(reading, 'beside') }
    );
  },
  trigger: (reading) => {
    const { at, found, base, what, when } = reading;
    const direction = wordAt(at, found.get('direction'), DIRECTIONS, `${what}, direction`);
    const because = optionalText(reading, 'because');
    const concerns = conditionOf(reading, 'concerns');
    return (
      direction && {
        ...base,
        kind: 'trigger',
        direction,
        ...(concerns && { concerns }),
        ...(when && { when }),
        ...(because && { because }),
      }
    );
  },
  need: (reading) => {
    const { at, found, base, what, when } = reading;
    const plan = wordAt(at, found.get('plan'), ['a', 'b'] as const, `${what}, plan`);
    const met = conditionOf(reading, 'met');
    const missing = optionalText(reading, 'missing');
    const blocks = flagOf(reading, 'blocks');
    return (
      plan && {
        ...base,
        kind: 'need',
        plan,
        ...(met && { met }),
        ...(when && { when }),
        ...(missing && { missing }),
        blocks,
      }
    );
  },
  'follow-up': readFollowUp,
  sentence: (reading) => {
    const { at, found, base, what, when } = reading;
    const parent = optionalText(reading, 'parent');
    return {
      ...base,
      kind: 'sentence',
      section: textAt(at, found.get('section'), `${what}, section`) ?? '',
      ...(parent !== undefined && { parent }),
      ...(when && { when }),
    };
  },
  urgent: ({ base, when }) => ({ ...base, kind: 'urgent', ...(when && { when }) }),
};

function readNumber({ at, found, base, what }: Reading): OfKind<'number'> | undefined {
  const value = numberAt(at, found.get('value'), `${what}, value`);
  if (value === undefined) return undefined;
  if (value <= 0) problem(at, found.get('value'), `${what}, value: a number above 0 is needed.`);
  return { ...base, kind: 'number', value, unit: textAt(at, found.get('unit'), `${what}, unit`) ?? '' };
}

function readWindow({ at, found, base, what }: Reading): OfKind<'window'> | undefined {
  const low = numberAt(at, found.get('low'), `${what}, low`);
  const high = numberAt(at, found.get('high'), `${what}, high`);
  if (low === undefined || high === undefined) return undefined;
  if (low < 1 || high < low || high > 3)
    problem(
      at,
      found.get('low'),
      `${what}: low and high are multiples of the calibre, 1 <= low <= high <= 3.`,
    );
  const device = wordAt(at, found.get('for'), DEVICE_KINDS, `${what}, for`) ?? '';
  return { ...base, kind: 'window', for: device, low, high };
}

function readFollowUp({ at, found, base, what, when }: Reading): OfKind<'follow-up'> {
  const daysAt = (key: string): number | undefined =>
    found.has(key) ? numberAt(at, found.get(key), `${what}, ${key}`) : undefined;
  const [fromDays, toDays] = [daysAt('from_days'), daysAt('to_days')];
  for (const days of [fromDays, toDays])
    if (days !== undefined && (!Number.isInteger(days) || days < 0 || days > MOST_DAYS))
      problem(
        at,
        found.get('from_days') ?? found.get('to_days'),
        `${what}: whole days from 0 to ${MOST_DAYS} are needed.`,
      );
  if (fromDays !== undefined && toDays !== undefined && toDays < fromDays)
    problem(at, found.get('to_days'), `${what}: to_days is before from_days.`);
  return { ...base, kind: 'follow-up', fromDays, toDays, ...(when && { when }) };
}

const flagOf = ({ at, found, what }: Reading, key: string): boolean =>
  found.has(key) && flagAt(at, found.get(key), `${what}, ${key}`);

const conditionOf = ({ at, found, what }: Reading, key: string): Condition | undefined =>
  found.has(key) ? readCondition(at, found.get(key), `${what}, ${key}`) : undefined;

function lobesAndSides({ at, found, what }: Reading): { lobes: string[]; sides: string[] } {
  return {
    lobes: wordsAt(at, found.get('lobes'), LOBES, `${what}, lobes`),
    sides: wordsAt(at, found.get('sides'), SIDES, `${what}, sides`),
  };
}

function optionalText({ at, found, what }: Reading, key: string): string | undefined {
  if (!found.has(key)) return undefined;
  const text = textAt(at, found.get(key), `${what}, ${key}`);
  if (text !== undefined) checkPlaces(at, found.get(key), text, what);
  return text;
}

function readItem({ at, found, base, what }: Reading): OfKind<'item'> | undefined {
  const moment = wordAt(at, found.get('moment'), MOMENTS, `${what}, moment`);
  const list = found.get('cases');
  const cases: {
    when?: NonNullable<ReturnType<typeof readCondition>>;
    level: (typeof CASE_LEVELS)[number];
    because: string;
  }[] = [];
  if (!isSeq(list) || list.items.length === 0) {
    problem(at, list, `${what}, cases: a list is needed.`);
    return undefined;
  }
  for (const [index, node] of list.items.entries()) {
    const label = `${what}, cases[${index}]`;
    if (!isMap(node)) {
      problem(at, node, `${label}: a map with when, level and because is needed.`);
      continue;
    }
    const entry = entries(at, node, ['when', 'level', 'because'], label);
    const when = entry.has('when') ? readCondition(at, entry.get('when'), label) : undefined;
    if (!entry.has('when') && index < list.items.length - 1)
      problem(at, node, `${label}: only the last case may go without "when".`);
    const level = wordAt(at, entry.get('level') ?? node, CASE_LEVELS, `${label}, level`);
    const because = textAt(at, entry.get('because') ?? node, `${label}, because`);
    if (because !== undefined) checkPlaces(at, entry.get('because'), because, what);
    if (level && because) cases.push({ ...(when && { when }), level, because });
  }
  const askNode = found.get('ask');
  if (!isMap(askNode)) {
    problem(at, askNode, `${what}, ask: a map with level and because is needed.`);
    return undefined;
  }
  const entry = entries(at, askNode, ['level', 'because'], `${what}, ask`);
  const level = wordAt(at, entry.get('level') ?? askNode, ASK_LEVELS, `${what}, ask level`);
  const because = textAt(at, entry.get('because') ?? askNode, `${what}, ask because`);
  const concerns = found.has('concerns')
    ? readCondition(at, found.get('concerns'), `${what}, concerns`)
    : undefined;
  const waits = found.has('waits') && flagAt(at, found.get('waits'), `${what}, waits`);
  return moment && level && because
    ? { ...base, kind: 'item', moment, ...(concerns && { concerns }), waits, cases, ask: { level, because } }
    : undefined;
}

function readSource(at: RuleText, node: unknown, origin: string, what: string): string {
  const source = textAt(at, node, `${what}, source`) ?? '';
  if (Object.hasOwn(SOURCES, source) || source === COMMON_PRACTICE || source === OWN_DEFINITION)
    return source;
  if (origin !== 'built-in' && /^local: ./.test(source)) return source;
  const hint = nearestKey(source, Object.keys(SOURCES));
  const local = origin === 'built-in' ? '' : ' A protocol of the hospital is written "local: NAME".';
  problem(
    at,
    node,
    `${what}, source: ${quoted(source)} is not a known source.${hint ? ` Did you mean "${hint}"?` : ''}${local}`,
  );
  return source;
}

function checkPlaces(at: RuleText, node: unknown, text: string, what: string): void {
  for (const place of placesOf(text)) {
    if (place.startsWith('rule:') || Object.hasOwn(FACTS, place)) continue;
    const hint = nearestKey(place, Object.keys(FACTS));
    problem(
      at,
      node,
      `${what}: the text names ${quoted(place)}, no known fact.${hint ? ` Did you mean "${hint}"?` : ''}`,
    );
  }
}
