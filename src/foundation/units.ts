import type { In } from './unit-types.js';

/**
 * Units of measure and their conversion, with every digit of the definition.
 *
 * A unit is a fraction of its kind's base unit: base value = (written + offset) * times / over. Two integers or exact decimals, instead of
 * one rounded factor, keep 1.2 cm at exactly 12 mm and 98.5 % at exactly 0.985. Definitions are exact and quoted from memory: the SI
 * Brochure (9th edition, BIPM 2019), NIST SP 811 (2008) Appendix B, and the international yard and pound agreement of 1959.
 */
export interface Unit {
  /** Other spellings that are accepted; the key of the table is the spelling that is printed. */
  readonly also?: readonly string[];
  readonly times: number;
  readonly over: number;
  /** Added before scaling; only temperatures have one. */
  readonly offset?: number;
  readonly source: string;
}

export interface Kind {
  /** For messages: "a pressure". */
  readonly noun: string;
  readonly base: string;
  /** Spellings for a message that asks for a unit. */
  readonly examples: readonly string[];
  readonly units: Readonly<Record<string, Unit>>;
}

const SI = 'SI Brochure, 9th edition (memory)';
const SP811 = 'NIST SP 811, Appendix B (memory)';
const YARD = 'international yard and pound agreement 1959 (memory)';
const CALENDAR = 'Julian year of 365.25 days, IAU (memory)';

/** Pascals in one conventional millimetre of mercury: 13 595.1 kg/m3 x 9.80665 m/s2 x 1 mm (NIST SP 811, memory). */
const PA_PER_MMHG = 133.322387415;
/** Pascals in one conventional centimetre of water: 1000 kg/m3 x 9.80665 m/s2 x 1 cm (NIST SP 811, memory). */
const PA_PER_CMH2O = 98.0665;
/** Millimoles of haemoglobin monomer per litre in 1 g/dL: 10 g/L over 16 114 g/mol (ICSH 1978, memory). */
const MONOMER_MMOL_L_PER_G_DL = 0.6206;
/** Micromoles of creatinine per litre in 1 mg/dL: 10 mg/L over 113.12 g/mol is 88.40 (KDIGO 2012, memory). */
const CREATININE_UMOL_L_PER_MG_DL = 88.4;

export const KINDS = {
  pressure: {
    noun: 'a pressure',
    base: 'mmHg',
    examples: ['210 mmHg', '28 kPa'],
    units: {
      mmHg: { also: ['mm Hg', 'mm[Hg]'], times: 1, over: 1, source: SP811 },
      kPa: { times: 1000, over: PA_PER_MMHG, source: SI },
      cmH2O: { also: ['cm H2O', 'cmH₂O', 'cm[H2O]'], times: PA_PER_CMH2O, over: PA_PER_MMHG, source: SP811 },
      mbar: { times: 100, over: PA_PER_MMHG, source: SI },
      hPa: { times: 100, over: PA_PER_MMHG, source: SI },
      Pa: { times: 1, over: PA_PER_MMHG, source: SI },
      Torr: { times: 101325 / 760, over: PA_PER_MMHG, source: `${SP811}: 101325/760 Pa` },
    },
  },
  length: {
    noun: 'a length',
    base: 'mm',
    examples: ['8.5 mm', '1.2 cm'],
    units: {
      mm: { times: 1, over: 1, source: SI },
      cm: { times: 10, over: 1, source: SI },
      m: { times: 1000, over: 1, source: SI },
      um: { also: ['µm', 'μm', 'micron'], times: 1, over: 1000, source: SI },
      inch: { also: ['in', 'inches', '"'], times: 254, over: 10, source: YARD },
      ft: { also: ['foot', 'feet'], times: 3048, over: 10, source: YARD },
    },
  },
  altitude: {
    noun: 'a height above sea level',
    base: 'm',
    examples: ['540 m', '1770 ft'],
    units: {
      m: { times: 1, over: 1, source: SI },
      km: { times: 1000, over: 1, source: SI },
      ft: { also: ['foot', 'feet'], times: 3048, over: 10000, source: YARD },
    },
  },
  haemoglobin: {
    noun: 'a haemoglobin concentration',
    base: 'g/dL',
    examples: ['15 g/dL', '150 g/L'],
    units: {
      'g/dL': { also: ['g/100mL', 'g/100 mL'], times: 1, over: 1, source: SI },
      'g/L': { times: 1, over: 10, source: SI },
      'mmol/L': {
        times: 1,
        over: MONOMER_MMOL_L_PER_G_DL,
        source: 'monomer, 16 114 g/mol: ICSH, J Clin Pathol 1978 (memory)',
      },
    },
  },
  fraction: {
    noun: 'a percentage',
    base: 'fraction',
    examples: ['98 %'],
    units: {
      '%': { also: ['percent', 'per cent'], times: 1, over: 100, source: 'definition' },
      fraction: { also: ['L/L'], times: 1, over: 1, source: 'definition' },
    },
  },
  volume: {
    noun: 'a volume',
    base: 'L',
    examples: ['2.9 L', '2900 mL'],
    units: {
      L: { also: ['l', 'litre', 'liter', 'litres', 'liters', 'dm3'], times: 1, over: 1, source: SI },
      dL: { times: 1, over: 10, source: SI },
      mL: { also: ['cm3', 'cc'], times: 1, over: 1000, source: SI },
    },
  },
  flow: {
    noun: 'a flow',
    base: 'L/min',
    examples: ['6.4 L/min', '240 mL/min'],
    units: {
      'L/min': { times: 1, over: 1, source: SI },
      'mL/min': { times: 1, over: 1000, source: SI },
      'L/s': { times: 60, over: 1, source: SI },
      'mL/s': { times: 60, over: 1000, source: SI },
    },
  },
  content: {
    noun: 'a gas content',
    base: 'mL/dL',
    examples: ['5 mL/dL', '50 mL/L'],
    units: {
      'mL/dL': { also: ['mL/100mL', 'vol%'], times: 1, over: 1, source: SI },
      'mL/L': { times: 1, over: 10, source: SI },
    },
  },
  temperature: {
    noun: 'a temperature',
    base: 'degC',
    examples: ['37 degC', '98.6 degF'],
    units: {
      degC: { also: ['°C', 'C', '℃'], times: 1, over: 1, source: SI },
      K: { times: 1, over: 1, offset: -273.15, source: SI },
      degF: { also: ['°F', 'F', '℉'], times: 5, over: 9, offset: -32, source: SP811 },
    },
  },
  age: {
    noun: 'an age',
    base: 'y',
    examples: ['46 y', '18 months'],
    units: {
      y: { also: ['yr', 'yrs', 'year', 'years', 'a'], times: 1, over: 1, source: CALENDAR },
      months: { also: ['month', 'mo'], times: 1, over: 12, source: 'definition' },
      weeks: { also: ['week', 'wk'], times: 7, over: 365.25, source: CALENDAR },
      days: { also: ['day', 'd'], times: 1, over: 365.25, source: CALENDAR },
    },
  },
  duration: {
    noun: 'a time',
    base: 'min',
    examples: ['20 min'],
    units: {
      min: { also: ['minute', 'minutes'], times: 1, over: 1, source: SI },
      h: { also: ['hour', 'hours'], times: 60, over: 1, source: SI },
      s: { also: ['sec', 'second', 'seconds'], times: 1, over: 60, source: SI },
    },
  },
  leadTime: {
    noun: 'a number of days',
    base: 'd',
    examples: ['21 d', '3 weeks'],
    units: {
      d: { also: ['day', 'days'], times: 1, over: 1, source: SI },
      weeks: { also: ['week', 'wk'], times: 7, over: 1, source: 'definition' },
    },
  },
  mass: {
    noun: 'a weight',
    base: 'kg',
    examples: ['62 kg', '137 lb'],
    units: {
      kg: { times: 1, over: 1, source: SI },
      g: { times: 1, over: 1000, source: SI },
      lb: { also: ['lbs', 'pound', 'pounds'], times: 0.45359237, over: 1, source: YARD },
    },
  },
  gestation: {
    noun: 'a number of weeks of pregnancy',
    base: 'wk',
    examples: ['20 wk'],
    units: {
      wk: { also: ['week', 'weeks', 'w'], times: 1, over: 1, source: 'definition' },
      days: { also: ['day', 'd'], times: 1, over: 7, source: 'definition' },
    },
  },
  rate: {
    noun: 'a rate',
    base: '/min',
    examples: ['72 /min'],
    units: {
      '/min': { also: ['1/min', 'min-1', 'bpm', 'per min', 'beats/min'], times: 1, over: 1, source: SI },
    },
  },
  creatinine: {
    noun: 'a creatinine concentration',
    base: 'umol/L',
    examples: ['74 umol/L', '0.84 mg/dL'],
    units: {
      'umol/L': { also: ['µmol/L', 'μmol/L'], times: 1, over: 1, source: SI },
      'mg/dL': {
        times: CREATININE_UMOL_L_PER_MG_DL,
        over: 1,
        source: '113.12 g/mol, rounded as laboratories do: KDIGO 2012 (memory)',
      },
    },
  },
  ferritin: {
    noun: 'a ferritin concentration',
    base: 'ug/L',
    examples: ['12 ug/L'],
    units: {
      'ug/L': { also: ['µg/L', 'μg/L', 'mcg/L', 'ng/mL'], times: 1, over: 1, source: SI },
    },
  },
  pieceVolume: {
    noun: 'a volume',
    base: 'mm3',
    examples: ['10 mm3'],
    units: {
      mm3: { also: ['mm^3', 'mm³', 'uL', 'µL', 'μL'], times: 1, over: 1, source: SI },
      mL: { also: ['cm3', 'cm^3', 'cm³'], times: 1000, over: 1, source: SI },
    },
  },
  egfr: {
    noun: 'a glomerular filtration rate',
    base: 'mL/min/1.73m2',
    examples: ['90 mL/min/1.73m2'],
    units: {
      'mL/min/1.73m2': {
        also: ['mL/min/1.73 m2', 'mL/min/1.73m²', 'mL/min/1.73 m²', 'mL/min per 1.73 m2', 'mL/min/1.73m^2'],
        times: 1,
        over: 1,
        source: 'body surface of 1.73 m2: KDIGO 2012 (memory)',
      },
    },
  },
} as const satisfies Record<string, Kind>;

export type QuantityKind = keyof typeof KINDS;
export type UnitOf<K extends QuantityKind> = keyof (typeof KINDS)[K]['units'] & string;

/** The table of one kind, as plain data. */
export function kindOf(kind: QuantityKind): Kind {
  return KINDS[kind];
}

/** Converts `value` between two units of one kind; the same unit returns the same number, bit for bit. Throws on an unknown unit. */
export function convert<K extends QuantityKind, F extends UnitOf<K>, I extends UnitOf<K>>(
  value: In<NoInfer<F>>,
  kind: K,
  from: F,
  into: I,
): In<I> {
  if ((from as string) === into) return value as number;
  const { units } = kindOf(kind);
  const source = units[from];
  const target = units[into];
  if (!source || !target) throw new RangeError(`${kind} knows no unit ${source ? into : from}`);
  const scaled =
    ((value + (source.offset ?? 0)) * (source.times * target.over)) / (source.over * target.times);
  return scaled - (target.offset ?? 0);
}

/** The canonical spelling of a unit as written, or undefined. Letter case is ignored unless it would turn milli into mega. */
export function canonicalUnit(written: string, kind: QuantityKind): string | undefined {
  const { units } = kindOf(kind);
  const spellings = Object.entries(units).flatMap(([unit, { also = [] }]) =>
    [unit, ...also].map((s) => [s, unit]),
  );
  const exact = spellings.find(([spelling]) => spelling === written);
  if (exact) return exact[1];
  const folded = written.toLowerCase();
  const loose = spellings.find(
    ([spelling]) =>
      spelling.toLowerCase() === folded && !(written.startsWith('M') && spelling.startsWith('m')),
  );
  return loose?.[1];
}
