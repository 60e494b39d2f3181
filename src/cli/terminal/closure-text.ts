import { fixed, rangeText } from '../../foundation/number-text.js';
import type { ClosureOutcome } from '../../physiology/closure-table.js';
import type { Closure, Shunt } from '../../result/result.generated.js';

const COLUMNS = ['closed', 'shunt %', '95 %', 'SaO2 air %', 'SaO2 oxygen %', 'mean PA mmHg', 'output L/min'];

/** The virtual closure as a table in plain text, with shares, order, assumptions and cautions. */
export function closureText(
  shunt: Shunt | undefined,
  now: Closure | undefined,
  closure: ClosureOutcome,
): string {
  const lines: string[] = [];
  if (shunt?.fraction === undefined) {
    lines.push(
      `Virtual closure: not computed, because ${closure.rows[0]?.absent_because ?? 'there is no usable blood gas'}`,
    );
    return `${lines.join('\n')}\n`;
  }
  lines.push('Virtual closure', '');
  const rows = [...(now && now.absent_because === undefined ? [['nothing', ...cells(now)]] : [])];
  for (const row of closure.rows)
    if (row.absent_because === undefined) rows.push([label(row), ...cells(row)]);
  lines.push(...table([COLUMNS, ...rows]));
  for (const row of closure.rows) {
    if (row.absent_because !== undefined)
      lines.push(`${label(row)}: not computed, because ${row.absent_because}`);
  }
  if (closure.shares.shares.length > 0) {
    lines.push('', 'Share of the flow through the lesion (Poiseuille; Murray)');
    for (const { name, poiseuille, murray } of closure.shares.shares) {
      lines.push(`  ${name}  ${fixed(100 * poiseuille, 1)} %; ${fixed(100 * murray, 1)} %`);
    }
  }
  if (closure.order.length > 1) lines.push('', `Order by benefit: ${closure.order.join(', ')}`);
  const assumed = [...new Set(closure.rows.flatMap((row) => row.assumed ?? []))];
  if (assumed.length > 0) lines.push('', 'Assumed', ...assumed.map((text) => `  - ${text}`));
  lines.push(
    '',
    'Cautions',
    '  - PA pressure is an upper bound (output unchanged, no recruitment), output a lower bound (pressure unchanged).',
    '  - Half the calibre carries far less than half the flow: trust the range, not the last digit. A clinician decides.',
  );
  return `${lines.join('\n')}\n`;
}

function label(row: Closure): string {
  const names = row.closed === 'lobe' ? 'lobe' : row.closed.join(' + ') || 'nothing';
  return row.occlusion_percent === undefined ? names : `${names} to ${fixed(row.occlusion_percent, 0)} %`;
}

function cells(row: Closure): string[] {
  const shunt = row.intervals?.shunt_fraction;
  const number = (value: number | undefined, digits: number) =>
    value === undefined ? '-' : fixed(value, digits);
  return [
    row.shunt_fraction === undefined
      ? '-'
      : `${row.shunt_fraction_is === 'at-least' ? '>= ' : ''}${fixed(100 * row.shunt_fraction, 1)}`,
    shunt ? rangeText([100 * shunt[0], 100 * shunt[1]], 1, '') : '-',
    number(row.so2_room_air_percent, 1),
    number(row.so2_on_oxygen_percent, 1),
    number(row.mean_pa_pressure_mmhg, 0),
    number(row.cardiac_output_l_min, 1),
  ];
}

function table(rows: string[][]): string[] {
  const widths = rows[0].map((_, column) => Math.max(...rows.map((row) => row[column].length)));
  return rows.map(
    (row) =>
      `  ${row.map((cell, i) => (i === 0 ? cell.padEnd(widths[i]) : cell.padStart(widths[i]))).join('  ')}`,
  );
}
