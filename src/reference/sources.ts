/**
 * Every publication the project rests on, once. `read` says how it was read:
 * `opened` (the passage itself), `excerpt` (abstract or quoted table), `secondary` (a page that quotes it), `memory`.
 */
export interface Source {
  cite: string;
  read: 'opened' | 'excerpt' | 'secondary' | 'memory';
}

export const COMMON_PRACTICE = 'common practice, no source';

export const SOURCES = {
  'santhirapala-2014': { cite: 'Santhirapala et al., PLoS One 2014;9:e90777', read: 'excerpt' },
} as const satisfies Record<string, Source>;
