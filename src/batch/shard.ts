import { InputFailure } from '../foundation/failure.js';
import { quoted } from '../foundation/quoted-text.js';

/** The share of a list that one machine takes: number `index` (from 1) of `of`. */
export interface Shard {
  index: number;
  of: number;
}

/** Greatest number of shares of a list. */
export const MOST_SHARDS = 100_000;

/** Reads `2/5`. Throws InputFailure (2) for anything else. */
export function parseShard(text: string): Shard {
  const match = /^(\d{1,6})\/(\d{1,6})$/.exec(text);
  const [index, of] = [Number(match?.[1]), Number(match?.[2])];
  if (match === null || of < 1 || of > MOST_SHARDS || index < 1 || index > of)
    throw new InputFailure(
      2,
      `--shard ${quoted(text)} is not a share of a list. Write for example --shard 2/5 for the second of five; the first is 1/5.`,
    );
  return { index, of };
}

/** Every `of`-th entry from number `index` on: each entry is in exactly one share, and the sizes of shares differ by at most one. */
export function shardOf<T>(list: readonly T[], shard: Shard | undefined): T[] {
  if (shard === undefined) return [...list];
  return list.filter((_, i) => i % shard.of === shard.index - 1);
}

/** File name of a share's summary, without extension: `summary`, or `summary-2-of-5`. */
export const summaryName = (shard: Shard | undefined): string =>
  shard === undefined ? 'summary' : `summary-${shard.index}-of-${shard.of}`;
