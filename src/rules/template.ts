import { asWritten, besideLimits } from '../foundation/number-text.js';
import { FACTS, type Facts } from './facts.js';
import type { Rule } from './rule.js';

const PLACE = /\{([^{}]+)\}/g;

/** Names in the braces of a text: facts, or `rule:ID` for a number rule. */
export function placesOf(text: string): string[] {
  return [...text.matchAll(PLACE)].map((match) => match[1]);
}

/**
 * Fills `{fact}` with the fact's value and unit, and `{rule:ID}` with a number rule's value and unit. A fact printed next to a number rule
 * of its unit has enough digits to distinguish the two. An unknown fact reads "not stated"; an empty list reads "none".
 */
export function fillText(text: string, facts: Facts, byId: ReadonlyMap<string, Rule>): string {
  const limits = placesOf(text).flatMap((name) => {
    const rule = byId.get(name.slice('rule:'.length));
    return name.startsWith('rule:') && rule?.kind === 'number' ? [rule] : [];
  });
  return text.replace(PLACE, (_, name: string) => {
    if (name.startsWith('rule:')) {
      const rule = byId.get(name.slice('rule:'.length));
      if (rule?.kind !== 'number') throw new RangeError(`there is no number rule for {${name}}`);
      return `${rule.value} ${rule.unit}`;
    }
    return factText(name, facts, limits);
  });
}

const WORDS: Readonly<Record<string, string>> = {
  tia: 'TIA',
  'hht-family': 'HHT in the family',
  'liver-avm': 'liver malformation',
};

/** A word of the case's vocabulary as shown to a reader: `brain-abscess` is a brain abscess. */
const inWords = (word: string): string => WORDS[word] ?? word.replaceAll('-', ' ');

/** One fact as shown to a reader; next to limits in its unit, with enough digits to distinguish it from them. */
function factText(name: string, facts: Facts, limits: readonly { value: number; unit: string }[]): string {
  const value = facts[name];
  if (value === undefined) return 'not stated';
  if (Array.isArray(value)) {
    const isWord = name.startsWith('patient.') || name.startsWith('history.');
    return value.length === 0 ? 'none' : value.map((one) => (isWord ? inWords(one) : one)).join(', ');
  }
  if (typeof value !== 'number') return String(value);
  const { digits = 0, isTrimmed = false, unit } = FACTS[name];
  const own = limits.filter((limit) => limit.unit === unit).map((limit) => limit.value);
  const text = isTrimmed ? asWritten(value, digits) : besideLimits(value, digits, own);
  const counted = unit.replace('(s)', value === 1 ? '' : 's');
  return unit === '' ? text : `${text} ${counted}`;
}
