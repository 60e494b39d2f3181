import { join } from 'node:path';
import { isSummary, type Summary, summaryCsv, summaryJson, summaryMarkdown } from '../../batch/summary.js';
import type { Terminal } from '../terminal/terminal.js';
import { writeWhole } from '../output/write-whole.js';

/** Writes `NAME.csv`, `NAME.json` and `NAME.md` into a folder, each whole or not at all. */
export async function writeSummary(folder: string, name: string, summary: Summary): Promise<void> {
  // the JSON comes last, so that a program waiting for it also finds the others
  const forms = { csv: summaryCsv, md: summaryMarkdown, json: summaryJson };
  for (const [ending, render] of Object.entries(forms)) {
    const path = join(folder, `${name}.${ending}`);
    await writeWhole({ path, flag: '--out', isOurs: (text) => isSummary(path, text) }, render(summary));
  }
}

/** The summary on stdout: JSON, or one line for each case. */
export function showSummary(summary: Summary, json: boolean, terminal: Terminal): void {
  if (json) {
    terminal.out(summaryJson(summary));
    return;
  }
  const width = Math.max(4, ...summary.cases.map((row) => row.case.length));
  for (const row of summary.cases) {
    const facts =
      row.status === 'done'
        ? [row.recommended, row.devices, row.stops ? `${row.stops} stop` : ''].filter(Boolean).join('; ')
        : '';
    terminal.out(`${row.status.padEnd(6)}  ${row.case.padEnd(width)}  ${facts}`.trimEnd().concat('\n'));
  }
}
