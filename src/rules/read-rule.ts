import { isMap, isScalar, isSeq } from 'yaml';
import { nearestKey } from '../foundation/nearest-key.js';
import { quoted } from '../foundation/quoted-text.js';
import { COMMON_PRACTICE, SOURCES } from '../reference/sources.js';
import { FACTS } from './facts.js';
import { readCondition } from './read-condition.js';
import type { Rule, RuleKind } from './rule.js';
import { entries, flagAt, numberAt, problem, type RuleText, textAt, wordAt, wordsAt } from './rule-node.js';
import { placesOf } from './template.js';

/** Source of a rule that only fixes the meaning of a word. */
export const OWN_DEFINITION = 'definition of this tool';

/** What an operation takes: a lobe, two lobes of the right lung, segments of a lobe, or a wedge. */
const LOBES = ['upper', 'middle', 'lingula', 'lower', 'upper-middle', 'middle-lower', 'segments', 'wedge'];
const SIDES = ['left', 'right'];
const DEVICE_KINDS = ['vascular-plug', 'micro-plug', 'detachable-coil', 'pushable-coil'];
const LEVELS = ['stop', 'caution', 'note'] as const;
const CASE_LEVELS = ['stop', 'caution', 'note', 'ok'] as const;
const ASK_LEVELS = ['caution', 'note'] as const;
const MOMENTS = ['planning', 'sign-in', 'time-out', 'sign-out', 'after'] as const;
const SEEN = ['feeder', 'landing', 'sac', 'drain', 'branch', 'systemic-feeder', 'airway'];

const COMMON_KEYS = ['id', 'kind', 'text', 'source'];

/** Keys of each kind beside the common ones; with `?` where they may be left out. */
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

/** Reads one rule; a fault is a problem and gives undefined. */
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
  const rule = readKind(at, found, kind, base, what);
  return at.problems.length > before ? undefined : rule;
}

type Base = Pick<Rule, 'id' | 'text' | 'source' | 'origin'>;

function readKind(
  at: RuleText,
  found: Map<string, unknown>,
  kind: RuleKind,
  base: Base,
  what: string,
): Rule | undefined {
  const get = (key: string): unknown => found.get(key);
  const when = found.has('when') ? readCondition(at, get('when'), `${what}, when`) : undefined;
  switch (kind) {
    case 'number': {
      const value = numberAt(at, get('value'), `${what}, value`);
      if (value === undefined) return undefined;
      if (value <= 0) problem(at, get('value'), `${what}, value: a number above 0 is needed.`);
      return { ...base, kind, value, unit: textAt(at, get('unit'), `${what}, unit`) ?? '' };
    }
    case 'window': {
      const low = numberAt(at, get('low'), `${what}, low`);
      const high = numberAt(at, get('high'), `${what}, high`);
      if (low === undefined || high === undefined) return undefined;
      if (low < 1 || high < low || high > 3) {
        problem(at, get('low'), `${what}: low and high are multiples of the calibre, 1 <= low <= high <= 3.`);
      }
      return { ...base, kind, for: wordAt(at, get('for'), DEVICE_KINDS, `${what}, for`) ?? '', low, high };
    }
    case 'order': {
      const kinds = wordsAt(at, get('kinds'), DEVICE_KINDS, `${what}, kinds`);
      return when && { ...base, kind, kinds, when };
    }
    case 'advice': {
      const about = wordAt(at, get('about'), ['feeder', 'if-none', 'patient'] as const, `${what}, about`);
      const level = wordAt(at, get('level'), LEVELS, `${what}, level`);
      return about && level && when && { ...base, kind, about, level, when };
    }
    case 'step': {
      const stage = textAt(at, get('stage'), `${what}, stage`) ?? '';
      const see = found.has('see') ? wordsAt(at, get('see'), SEEN, `${what}, see`) : [];
      return { ...base, kind, ...lobesAndSides(at, found, what), stage, see, ...(when && { when }) };
    }
    case 'keep':
      return {
        ...base,
        kind,
        ...lobesAndSides(at, found, what),
        name: textAt(at, get('name'), `${what}, name`) ?? '',
      };
    case 'item':
      return readItem(at, found, base, what);
    case 'decision': {
      const words = ['embolise', 'resect', 'discuss'] as const;
      const recommend = wordAt(at, get('recommend'), words, `${what}, recommend`);
      const flag = (key: string): boolean => found.has(key) && flagAt(at, get(key), `${what}, ${key}`);
      return (
        recommend &&
        when && { ...base, kind, recommend, when, elective: flag('elective'), beside: flag('beside') }
      );
    }
    case 'trigger': {
      const words = ['a-to-b', 'b-to-a', 'stop-and-discuss'] as const;
      const direction = wordAt(at, get('direction'), words, `${what}, direction`);
      const because = optionalText(at, found, 'because', what);
      const concerns = found.has('concerns')
        ? readCondition(at, get('concerns'), `${what}, concerns`)
        : undefined;
      return (
        direction && {
          ...base,
          kind,
          direction,
          ...(concerns && { concerns }),
          ...(when && { when }),
          ...(because && { because }),
        }
      );
    }
    case 'need': {
      const plan = wordAt(at, get('plan'), ['a', 'b'] as const, `${what}, plan`);
      const met = found.has('met') ? readCondition(at, get('met'), `${what}, met`) : undefined;
      const missing = optionalText(at, found, 'missing', what);
      return (
        plan && {
          ...base,
          kind,
          plan,
          ...(met && { met }),
          ...(when && { when }),
          ...(missing && { missing }),
          blocks: found.has('blocks') && flagAt(at, get('blocks'), `${what}, blocks`),
        }
      );
    }
    case 'follow-up': {
      const fromDays = found.has('from_days')
        ? numberAt(at, get('from_days'), `${what}, from_days`)
        : undefined;
      const toDays = found.has('to_days') ? numberAt(at, get('to_days'), `${what}, to_days`) : undefined;
      for (const days of [fromDays, toDays]) {
        if (days !== undefined && (!Number.isInteger(days) || days < 0 || days > 36525)) {
          problem(at, get('from_days') ?? get('to_days'), `${what}: whole days from 0 to 36525 are needed.`);
        }
      }
      if (fromDays !== undefined && toDays !== undefined && toDays < fromDays) {
        problem(at, get('to_days'), `${what}: to_days is before from_days.`);
      }
      return { ...base, kind, fromDays, toDays, ...(when && { when }) };
    }
    case 'sentence': {
      const parent = found.has('parent') ? textAt(at, get('parent'), `${what}, parent`) : undefined;
      if (parent !== undefined) checkPlaces(at, get('parent'), parent, what);
      return {
        ...base,
        kind,
        section: textAt(at, get('section'), `${what}, section`) ?? '',
        ...(parent !== undefined && { parent }),
        ...(when && { when }),
      };
    }
    case 'urgent':
      return { ...base, kind, ...(when && { when }) };
  }
}

function lobesAndSides(
  at: RuleText,
  found: Map<string, unknown>,
  what: string,
): { lobes: string[]; sides: string[] } {
  return {
    lobes: wordsAt(at, found.get('lobes'), LOBES, `${what}, lobes`),
    sides: wordsAt(at, found.get('sides'), SIDES, `${what}, sides`),
  };
}

function optionalText(
  at: RuleText,
  found: Map<string, unknown>,
  key: string,
  what: string,
): string | undefined {
  if (!found.has(key)) return undefined;
  const text = textAt(at, found.get(key), `${what}, ${key}`);
  if (text !== undefined) checkPlaces(at, found.get(key), text, what);
  return text;
}

function readItem(at: RuleText, found: Map<string, unknown>, base: Base, what: string): Rule | undefined {
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
