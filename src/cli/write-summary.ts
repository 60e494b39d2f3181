import { join } from 'node:path';
import { type Summary, summaryCsv, summaryJson, summaryMarkdown } from '../batch/summary.js';
import type { Terminal } from './terminal.js';
import { writeWhole } from './write-whole.js';

/** Writes `NAME.csv`, `NAME.json` and `NAME.md` into a folder, each whole or not at all. */
export async function writeSummary(folder: string, name: string, summary: Summary): Promise<void> {
  await writeWhole(join(folder, `${name}.csv`), summaryCsv(summary), '--out');
  await writeWhole(join(folder, `${name}.md`), summaryMarkdown(summary), '--out');
  // last, so that whoever waits for it finds the others too
  await writeWhole(join(folder, `${name}.json`), summaryJson(summary), '--out');
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
