/**
 * The only home of physical and physiological numbers. Clinical thresholds and decisions live in `src/rules/*.yaml`.
 * Each record carries its unit in its name, its source key (see sources.ts) and how it was read.
 */
export interface Constant {
  value: number;
  unit: string;
  /** Key of `SOURCES`, or 'common practice, no source'. */
  source: string;
  note?: string;
}

const constant = (value: number, unit: string, source: string, note?: string): Constant =>
  note === undefined ? { value, unit, source } : { value, unit, source, note };

export const CONSTANTS = {
  haemoglobinBindsMlPerG: constant(1.34, 'mL/g', 'santhirapala-2014', 'used in the PAVM literature; 1.36 and 1.39 exist'),
} as const satisfies Record<string, Constant>;
