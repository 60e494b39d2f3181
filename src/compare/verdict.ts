/** Whether the old plan stands on the new scan. */
export interface Verdict {
  /** `not comparable`: nothing may be read from the two until what stands in `because` is settled. */
  verdict: 'plan stands' | 'plan changes' | 'not comparable';
  /** What the verdict rests on; then, each with `caution: ` before it, what does not change the plan and must be known with it. */
  because: string[];
}

/** The verdict from what speaks against comparing at all, what changes the plan, and cautions. */
export function verdictOf({
  obstacles,
  reasons,
  cautions,
}: {
  obstacles: readonly string[];
  reasons: readonly string[];
  cautions: readonly string[];
}): Verdict {
  return {
    verdict: obstacles.length > 0 ? 'not comparable' : reasons.length > 0 ? 'plan changes' : 'plan stands',
    because: [...obstacles, ...reasons, ...cautions.map((text) => CAUTION + text)],
  };
}

const CAUTION = 'caution: ';

/** The verdict with a further obstacle in front. */
export const withObstacle = ({ because }: Verdict, obstacle: string): Verdict => ({
  verdict: 'not comparable',
  because: [obstacle, ...because],
});

/** `plan stands`, or the verdict with everything it rests on, cautions last. */
export function verdictLine({ verdict, because }: Verdict): string {
  if (because.length === 0) return verdict;
  return `${verdict}${because[0].startsWith(CAUTION) ? '; ' : ': '}${because.join('; ')}`;
}
