import { Chalk } from 'chalk';
import type { Finding, Level } from '../foundation/finding.js';
import type { Terminal } from './terminal.js';

/** How findings are shown: every one, or the notes only counted (they stand in the document that was written). */
export interface SayOptions {
  /** Where the notes can be read; then they are counted, not listed. */
  notesStandIn?: string;
  /** Where in the case file it stands, as `FILE:LINE:COLUMN`; put before the line. */
  locate?: (finding: Finding) => string;
}

/** Prints findings on stderr, the heaviest first, one line each: `caution A1: ...`. Colour never carries meaning alone. */
export function sayFindings(
  findings: readonly Finding[],
  terminal: Terminal,
  options: SayOptions = {},
): void {
  const paint = new Chalk({ level: terminal.colour ? 1 : 0 });
  const shade: Record<Level, (text: string) => string> = {
    stop: paint.bold.red,
    caution: paint.yellow,
    note: paint.dim,
  };
  for (const level of ['stop', 'caution', 'note'] as const) {
    const those = findings.filter((f) => f.level === level);
    if (level === 'note' && (terminal.quiet || options.notesStandIn !== undefined)) {
      if (!terminal.quiet && those.length > 0)
        terminal.err(`${those.length} note${those.length > 1 ? 's' : ''}, under ${options.notesStandIn}\n`);
      continue;
    }
    for (const f of those) {
      const at = options.locate?.(f);
      terminal.err(`${at ? `${at} ` : ''}${shade[level](level)} ${f.where}: ${f.text}\n`);
    }
  }
}
