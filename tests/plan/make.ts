import { readFileSync } from 'node:fs';
import type { Case, Shelf, ShelfDevice } from '../../src/case/case.js';
import { planDevices } from '../../src/devices/plan-devices.js';
import type { LesionMeasure } from '../../src/geometry/measure.js';
import { stockToday } from '../../src/plan/urgent.js';
import type { ReadinessInput } from '../../src/plan/readiness.js';
import { loadRules } from '../../src/rules/load-rules.js';
import { coil, plug } from '../devices/make.js';
import { sampleOf } from '../physiology/make.js';
import { landing, lesionOf, makeCase, vessel } from '../resection/make.js';

export const RULES = loadRules();
const TODAY = '2026-03-20';

export interface Row {
  [column: string]: string;
}

/** Rows of a CSV file next to the tests; `#` lines are comments, no cell contains a comma. */
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
    text.split(/[ +]/).map((word, i) => {
      const name = `A${i + 1}`;
      if (word.startsWith('x')) {
        const mean = Number(word.slice(1));
        return vessel(name, {
          landing: undefined,
          landingAbsentBecause: 'no stretch is even',
          calibreMm: { min: mean, mean, max: mean },
        });
      }
      const [calibreMm, lengthMm] = word.split(':').map(Number);
      return vessel(name, { landing: landing({ calibreMm, lengthMm }) });
    }),
  );
}

function bleedingOf({ bleeding, stable, into }: Row): Case['bleeding'] {
  if (!bleeding) return undefined;
  const answers = {
    now: { now: 'yes' },
    '24h': { now: 'no', within24h: 'yes' },
    no: { now: 'no', within24h: 'no' },
    half: { now: 'no' },
  } as const;
  return {
    ...answers[bleeding as keyof typeof answers],
    ...(stable && { stable: stable as 'yes' | 'no' }),
    ...(into && { into: into as 'airway' }),
  };
}

/** A case of one feeder, as parts. */
export const ONE_FEEDER: Partial<Case> = {
  surfaces: {
    unit: 'mm',
    unitMm: 1,
    frame: 'LPS',
    parts: [
      { name: 'A1', role: 'feeder', mesh: { relative: 'a.stl', absolute: 'a.stl' }, spare: false, path: 'p' },
    ],
  },
};

/** A lesion treated on a day, its scan, and one arterial sample on oxygen from before or after the treatment. */
const treatedCase = ({ treated, scan, gas }: Row): Partial<Case> => ({
  lesion: { side: 'left', lobe: 'lower', segments: [], treated },
  scan: { date: scan },
  gases: gas ? [sampleOf({ when: gas as 'before' | 'after' })] : [],
  ...ONE_FEEDER,
});

/** A whole patient from one row: the devices are planned by the code under test. */
export function inputOf(row: Row, more: Partial<Case> = {}): ReadinessInput {
  const shelf = shelfOf(row.shelf);
  const lesion = lesionFrom(row.feeders);
  const allergies = row.allergies === '' ? undefined : row.allergies === 'none' ? [] : words(row.allergies);
  const patientCase = makeCase({
    patient: {
      history: words(row.history),
      gestationWeeks: numberOr(row.gestation ?? ''),
      sex: row.sex ? (row.sex as 'female' | 'male') : undefined,
      egfrMlMin173: numberOr(row.egfr ?? ''),
      hht: {},
      spirometry: {},
      pregnant: row.pregnant === '' ? undefined : (row.pregnant as 'yes' | 'no' | 'unknown'),
      ageYears: numberOr(row.age),
      allergies,
    },
    circulation: {
      meanPaPressureMmHg: numberOr(row.mean_pa),
      wedgePressureMmHg: numberOr(row.wedge ?? ''),
      cardiacOutputLMin: numberOr(row.output ?? ''),
    },
    bleeding: bleedingOf(row),
    atHand: row.balloon ? { balloon: row.balloon as 'yes' | 'no' } : {},
    ...(row.place && {
      lesion: { side: row.place === 'none' ? undefined : (row.place as 'left' | 'right'), segments: [] },
    }),
    ...(row.systemic && {
      surfaces: {
        unit: 'mm',
        unitMm: 1,
        frame: 'LPS',
        parts: Array.from({ length: Number(row.systemic) }, (_, i) => ({
          name: `S${i + 1}`,
          role: 'systemic-feeder' as const,
          mesh: { relative: 's.stl', absolute: 's.stl' },
          spare: false,
          path: 'p',
        })),
      },
    }),
    planned: { approach: row.approach as 'auto' | 'embolise' | 'resect', date: '2026-04-02' },
    surgery: row.isolation ? { oneLungVentilation: row.isolation as 'yes' | 'no' } : {},
    ...(shelf && { shelf: { relative: 'shelf.yaml', absolute: 'shelf.yaml' } }),
    ...(row.feeders === 'closed' && {
      lesion: { side: 'left', lobe: 'lower', segments: [], treated: '2025-06-12' },
      surfaces: { unit: 'mm', unitMm: 1, frame: 'LPS', parts: [] },
    }),
    ...(row.treated && treatedCase(row)),
    ...more,
  });
  const feeders = (lesion?.vessels ?? []).map(({ name, landing: zone, landingAbsentBecause }) => ({
    name,
    ...(zone && { calibreMm: zone.calibreMm, zoneLengthMm: zone.lengthMm }),
    ...(landingAbsentBecause && { absentBecause: landingAbsentBecause }),
  }));
  const plan = planDevices(feeders, {
    ...(shelf && { shelf }),
    ...(allergies && { allergies }),
    today: TODAY,
    rules: RULES,
  });
  return {
    case: patientCase,
    rules: RULES,
    ...(lesion && { lesion }),
    ...(row.kind !== '' && { lesionKind: row.kind as 'simple' }),
    ...(row.after !== '' && { shuntAfter: { fraction: Number(row.after), method: 'content', assumed: [] } }),
    ...(row.shunt && { shunt: { fraction: Number(row.shunt), method: 'content' as const, assumed: [] } }),
    devices: plan.devices,
    stock: stockToday(feeders, { shelf, allergies, rules: RULES }),
    nickelByCode: new Map((shelf?.devices ?? []).map((device) => [device.code, device.nickel ?? 'unknown'])),
    orderList: plan.orderList,
    bestToday: plan.bestToday,
    today: TODAY,
    ...(row.stops && { surfaceStops: row.stops.split('+') }),
  };
}

/** `key=value` words of a row of advice.csv on top of the default row. */
export const settings = (text: string): Row =>
  Object.fromEntries(
    words(text).map((word) => [word.slice(0, word.indexOf('=')), word.slice(word.indexOf('=') + 1)]),
  );

/** A row with a default for every column. */
export function row(more: Row = {}): Row {
  return {
    feeders: '6.2:20',
    shelf: 'P8.6',
    history: '',
    pregnant: 'no',
    age: '46',
    mean_pa: '18',
    kind: 'simple',
    allergies: 'none',
    after: '',
    approach: 'auto',
    ...more,
  };
}
