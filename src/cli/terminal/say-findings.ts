import { Chalk } from 'chalk';
import type { Finding, Level } from '../../foundation/finding.js';
import { visible } from '../../foundation/quoted-text.js';
import type { Terminal } from './terminal.js';

/** Notes on parts of the input that were left out; printed even if other notes are only counted. */
const ALWAYS_SAID: ReadonlySet<string> = new Set(['rules-file-not-read']);

/** How findings are shown: all of them, or with the notes only counted (they are in the document written). */
export interface SayOptions {
  /** Where the notes can be read; if given, they are counted, not listed. */
  notesStandIn?: string;
  /** Its place in the case file, as `FILE:LINE:COLUMN`, printed before the line. */
  locate?: (finding: Finding) => string;
}

/** Prints findings on stderr, the most serious first, one line each: `caution A1: ...`. Colour never carries meaning alone. */
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
    if (level === 'note' && terminal.quiet) continue;
    const those = findings.filter((f) => f.level === level);
    const counted =
      level === 'note' && options.notesStandIn !== undefined
        ? those.filter(({ id }) => !ALWAYS_SAID.has(id))
        : [];
    for (const f of those) {
      if (counted.includes(f)) continue;
      const at = options.locate?.(f);
      terminal.err(
        `${at ? `${visible(at)} ` : ''}${shade[level](level)} ${visible(f.where)}: ${visible(f.text)}\n`,
      );
    }
    if (counted.length > 0)
      terminal.err(`${counted.length} note${counted.length > 1 ? 's' : ''}, under ${options.notesStandIn}\n`);
  }
}
