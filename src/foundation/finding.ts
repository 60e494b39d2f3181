/** How serious a finding is: `stop` ends with exit code 1, `caution` must be read, `note` informs. */
export type Level = 'stop' | 'caution' | 'note';

/**
 * Something that a reader must know about the case, a surface or a number.
 * Findings are values: they are returned and collected, never thrown.
 */
export interface Finding {
  /** Stable id in kebab-case, for example `open-surface`; listed in DEVELOPERS.md. */
  id: string;
  level: Level;
  /** The structure or case path concerned, for example `A1` or `gases[0].po2`. */
  where: string;
  /** What was found, with the number and its unit, and what to do. */
  text: string;
}

/** Builds one finding; keeps the calls short and the key order fixed. */
export function finding(level: Level, id: string, where: string, text: string): Finding {
  return { id, level, where, text };
}
