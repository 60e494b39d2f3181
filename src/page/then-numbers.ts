/** The numbers of the virtual closure that are shown next to a step. */

import { htmlText } from '../report/html-document.js';
import { cellEstimate, type Interval, percent, percentInterval, shuntCell } from '../report/words.js';
import { headlineShunt } from '../result/headline.js';
import type { Closure, Result } from '../result/result.generated.js';

const sameSet = (a: readonly string[], b: readonly string[]): boolean =>
  a.length === b.length && a.every((name) => b.includes(name));

/** The closure row for a set of names (each fully closed), or for the lobe; undefined if none was computed. */
function closureOf(result: Result, closed: readonly string[] | 'lobe'): Closure | undefined {
  return result.closure.find(
    (row) =>
      (row.occlusion_percent === undefined || row.occlusion_percent === 100) &&
      (closed === 'lobe' ? row.closed === 'lobe' : row.closed !== 'lobe' && sameSet(row.closed, closed)),
  );
}

const list = (rows: readonly (readonly [string, string])[]): string =>
  `<dl>${rows.map(([what, value]) => `<div><dt>${what}</dt><dd>${htmlText(value)}</dd></div>`).join('')}</dl>`;

/** HTML of one box: the numbers expected once `closed` is closed; before any closure, the measured shunt. */
export function thenBox(result: Result, closed: readonly string[] | 'lobe'): string {
  if (closed !== 'lobe' && closed.length === 0) {
    const shunt = headlineShunt(result);
    const value =
      shunt?.fraction === undefined
        ? `not computed: ${shunt?.absent_because ?? 'no sample that a shunt can be computed from'}`
        : shuntCell(shunt);
    return `<p>Nothing closed yet</p>${list([['Shunt, Qs/Qt', value]])}`;
  }
  const title = closed === 'lobe' ? 'With the lobe out' : `With ${htmlText(closed.join(' and '))} closed`;
  const row = closureOf(result, closed);
  if (!row) return `<p>${title}</p><p>No closure was computed for this set.</p>`;
  if (row.absent_because) return `<p>${title}</p><p>Not computed: ${htmlText(row.absent_because)}</p>`;
  const { intervals } = row;
  const cell = (
    value: number | undefined,
    interval: Interval | undefined,
    digits: number,
    unit: string,
  ): string => cellEstimate(value, interval, digits, unit, 'derived');
  const least = (end: 'least' | 'most'): string =>
    row.shunt_fraction_is === 'at-least' ? `, at ${end}` : '';
  const shown = row.shunt_fraction === undefined ? undefined : percent(row.shunt_fraction);
  return `<p>${title}</p>${list([
    [`Shunt, Qs/Qt${least('least')}`, cell(shown, percentInterval(intervals?.shunt_fraction), 1, '%')],
    [
      `SaO2 on room air${least('most')}`,
      cell(row.so2_room_air_percent, intervals?.so2_room_air_percent, 1, '%'),
    ],
    [
      `SaO2 on oxygen${least('most')}`,
      cell(row.so2_on_oxygen_percent, intervals?.so2_on_oxygen_percent, 1, '%'),
    ],
    [
      'Mean PA pressure, at most',
      cell(row.mean_pa_pressure_mmhg, intervals?.mean_pa_pressure_mmhg, 1, 'mmHg'),
    ],
    ['Cardiac output, at least', cell(row.cardiac_output_l_min, intervals?.cardiac_output_l_min, 1, 'L/min')],
  ])}`;
}
