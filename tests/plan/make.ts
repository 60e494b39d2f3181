import { readFileSync } from 'node:fs';
import type { Case, Shelf, ShelfDevice } from '../../src/case/case.js';
import { planDevices } from '../../src/devices/plan-devices.js';
import type { LesionMeasure } from '../../src/geometry/measure.js';
import type { ReadinessInput } from '../../src/plan/readiness.js';
import { loadRules } from '../../src/rules/load-rules.js';
import { coil, plug } from '../devices/make.js';
import { landing, lesionOf, makeCase, vessel } from '../resection/make.js';

export const RULES = loadRules();
const TODAY = '2026-03-20';

export interface Row {
  [column: string]: string;
}

/** Rows of a CSV file beside the tests; `#` lines are remarks, no cell holds a comma. */
export function rowsOf(name: string): Row[] {
  const lines = readFileSync(new URL(name, import.meta.url), 'utf8')
    .split('\n')
    .filter((line) => line !== '' && !line.startsWith('#'));
  const heads = lines[0].split(',');
  return lines.slice(1).map((line) => {
    const cells = line.split(',');
    if (cells.length !== heads.length) throw new Error(`${name}: ${line}`);
    return Object.fromEntries(heads.map((head, i) => [head, cells[i]]));
  });
}

const words = (text: string): string[] => text.split(' ').filter((word) => word !== '');
const numberOr = (text: string): number | undefined => (text === '' ? undefined : Number(text));

function shelfOf(text: string): Shelf | undefined {
  if (text === '') return undefined;
  const devices = words(text.replace(/^-$/, '')).map((word): ShelfDevice => {
    const [, kind, size, state] = /^([PC])([\d.]+)([on]?)$/.exec(word) ?? [];
    const stock = state === '' ? {} : { inStock: 0, leadTimeDays: state === 'o' ? 21 : undefined };
    return kind === 'P' ? plug(Number(size), stock) : coil(Number(size), stock);
  });
  return { devices };
}

function lesionFrom(text: string): LesionMeasure | undefined {
  if (text === '') return undefined;
  if (text === 'closed') return lesionOf([]);
  return lesionOf(
    words(text).map((word, i) => {
      const name = `A${i + 1}`;
      if (word.startsWith('x')) {
        const mean = Number(word.slice(1));
        return vessel(name, { landing: undefined, landingAbsentBecause: 'no stretch is even', calibreMm: { min: mean, mean, max: mean } });
      }
      const [calibreMm, lengthMm] = word.split(':').map(Number);
      return vessel(name, { landing: landing({ calibreMm, lengthMm }) });
    }),
  );
}

/** A whole patient from one row: the devices are planned by the code under test. */
export function inputOf(row: Row, more: Partial<Case> = {}): ReadinessInput {
  const shelf = shelfOf(row.shelf);
  const lesion = lesionFrom(row.feeders);
  const allergies = row.allergies === '' ? undefined : row.allergies === 'none' ? [] : words(row.allergies);
  const theCase = makeCase({
    patient: {
      history: words(row.history),
      hht: {},
      spirometry: {},
      pregnant: row.pregnant === '' ? undefined : (row.pregnant as 'yes' | 'no' | 'unknown'),
      ageYears: numberOr(row.age),
      allergies,
    },
    circulation: { meanPaPressureMmHg: numberOr(row.mean_pa) },
    planned: { approach: row.approach as 'auto' | 'embolise' | 'resect', date: '2026-04-02' },
    surgery: row.isolation ? { oneLungVentilation: row.isolation as 'yes' | 'no' } : {},
    ...(shelf && { shelf: { relative: 'shelf.yaml', absolute: 'shelf.yaml' } }),
    ...(row.feeders === 'closed' && {
      lesion: { side: 'left', lobe: 'lower', segments: [], treated: '2025-06-12' },
      surfaces: { unit: 'mm', unitMm: 1, frame: 'LPS', parts: [] },
    }),
    ...more,
  });
  const feeders = (lesion?.vessels ?? []).map(({ name, landing: zone, landingAbsentBecause }) => ({
    name,
    ...(zone && { calibreMm: zone.calibreMm, zoneLengthMm: zone.lengthMm }),
    ...(landingAbsentBecause && { absentBecause: landingAbsentBecause }),
  }));
  const plan = planDevices(feeders, { ...(shelf && { shelf }), ...(allergies && { allergies }), today: TODAY, rules: RULES });
  return {
    case: theCase,
    rules: RULES,
    ...(lesion && { lesion }),
    ...(row.kind !== '' && { lesionKind: row.kind as 'simple' }),
    ...(row.after !== '' && { shuntAfter: { fraction: Number(row.after), method: 'content', assumed: [] } }),
    devices: plan.devices,
    nickelByCode: new Map((shelf?.devices ?? []).map((device) => [device.code, device.nickel ?? 'unknown'])),
    orderList: plan.orderList,
    bestToday: plan.bestToday,
    today: TODAY,
  };
}

/** A row with a default for every column. */
export function row(more: Row = {}): Row {
  return { feeders: '6.2:20', shelf: 'P8.6', history: '', pregnant: 'no', age: '46', mean_pa: '18', kind: 'simple', allergies: 'none', after: '', approach: 'auto', ...more };
}
