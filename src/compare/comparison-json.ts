import { rounded } from '../foundation/number-text.js';
import type { Comparison } from './compare.js';

const DIGITS = 6;

/** The comparison as JSON, keys in snake case and numbers rounded to six decimals: same input, same bytes. */
export function comparisonJson(comparison: Comparison): string {
  return `${JSON.stringify(plain(comparison), null, 2)}\n`;
}

function plain(value: unknown): unknown {
  if (typeof value === 'number') return Number.isInteger(value) ? value : rounded(value, DIGITS);
  if (Array.isArray(value)) return value.map(plain);
  if (typeof value !== 'object' || value === null) return value;
  const entries = Object.entries(value).filter(([, item]) => item !== undefined);
  return Object.fromEntries(entries.map(([key, item]) => [snake(key), plain(item)]));
}

const snake = (key: string): string => key.replace(/[A-Z]/g, (letter) => `_${letter.toLowerCase()}`);
