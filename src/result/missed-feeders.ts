import type { Result } from './result.generated.js';

type Missed = NonNullable<Result['missed']>;

/** The vessels in no surface that may feed the lesion: all except side branches, which lead away from it. */
export const missedFeeders = (missed: Missed | undefined): Missed =>
  (missed ?? []).filter(({ kind }) => kind !== 'side-branch');
