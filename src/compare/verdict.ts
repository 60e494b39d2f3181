/** Precedes remarks that do not change the plan but must be read with the verdict. */
export const CAUTION = 'caution: ';

/** Whether the old plan still holds on the new scan. */
export interface Verdict {
  /** `not comparable`: no conclusion may be drawn until the points in `because` are settled. */
  verdict: 'plan stands' | 'plan changes' | 'not comparable';
  /** The reasons for the verdict; then cautions that do not change the plan but must be read with it, each prefixed `caution: `. */
  because: string[];
  /** True if the plan is unchanged and no decision, vessel or number changed beyond its interval. */
  unchanged: boolean;
}

/** The verdict from obstacles to comparing, reasons that change the plan, and cautions. */
export function verdictOf({
  obstacles,
  reasons,
  cautions,
  nothingElse,
}: {
  obstacles: readonly string[];
  reasons: readonly string[];
  cautions: readonly string[];
  /** No decision or number has changed, so that the plan remains as it is. */
  nothingElse: boolean;
}): Verdict {
  return {
    unchanged: obstacles.length === 0 && reasons.length === 0 && nothingElse,
    verdict: obstacles.length > 0 ? 'not comparable' : reasons.length > 0 ? 'plan changes' : 'plan stands',
    because: [...obstacles, ...reasons, ...cautions.map((text) => CAUTION + text)],
  };
}

/** The verdict with one more obstacle, placed first. */
export const withObstacle = ({ because }: Verdict, obstacle: string): Verdict => ({
  verdict: 'not comparable',
  because: [obstacle, ...because],
  unchanged: false,
});

/** `plan stands, unchanged`, or the verdict with all its reasons, cautions last. */
export function verdictLine({ verdict, because, unchanged }: Verdict): string {
  const word = unchanged ? `${verdict}, unchanged` : verdict;
  if (because.length === 0) return word;
  return `${word}${because[0].startsWith(CAUTION) ? '; ' : ': '}${because.join('; ')}`;
}
