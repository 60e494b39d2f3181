import { addTo } from '../foundation/add-to.js';
import { mean } from '../geometry/statistics.js';
import type { Reading } from './readings.js';

/** Constants of the average and range method, 1/d2*, by number of rounds, readers or parts (manual of the method, from memory). */
const K1: Record<number, number> = { 2: 0.8862, 3: 0.5908 };
const K2: Record<number, number> = { 2: Math.SQRT1_2, 3: 0.5231 };
const K3: Record<number, number> = {
  2: Math.SQRT1_2,
  3: 0.5231,
  4: 0.4467,
  5: 0.403,
  6: 0.3742,
  7: 0.3534,
  8: 0.3375,
  9: 0.3249,
  10: 0.3146,
};

/** Input of the average and range method, mm. */
export interface GaugeStudy {
  parts: number;
  readers: number;
  rounds: number;
  /** Mean range of the readings of one part by one reader. */
  meanRangeMm: number;
  /** Largest minus smallest reader mean. */
  readerDifferenceMm: number;
  /** Largest minus smallest part mean. */
  partRangeMm: number;
}

/** The repeatability of readings, standard deviations in mm. */
export interface Repeatability extends Pick<GaugeStudy, 'parts' | 'readers' | 'rounds'> {
  /** One reader, one part: repeatability. */
  equipmentMm: number;
  /** Between readers: reproducibility. Absent with one reader. */
  appraiserMm?: number;
  /** Both combined. */
  gaugeMm: number;
  /** Between the parts, from at most ten of them. */
  partMm?: number;
  /** Number of categories that the readings distinguish. */
  categories?: number;
}

/**
 * Gauge repeatability and reproducibility by the average and range method.
 *
 * Formula   EV = R·K1; AV = sqrt(max(0, (X·K2)² - EV²/(n·r))); GRR = sqrt(EV² + AV²); PV = Rp·K3; ndc = floor(1.41·PV/GRR)
 * Source    Measurement Systems Analysis, reference manual, 4th edition (constants from memory)
 * Valid     one to three readers, two or three rounds; other numbers give undefined
 * Checked   tests/print/agreement.test.ts
 */
export function averageAndRange(study: GaugeStudy): Repeatability | undefined {
  const { parts, readers, rounds } = study;
  const k1 = K1[rounds];
  if (k1 === undefined || parts < 2 || readers > 3) return undefined;
  const equipmentMm = study.meanRangeMm * k1;
  const k2 = K2[readers];
  const appraiserMm =
    k2 === undefined
      ? undefined
      : Math.sqrt(Math.max(0, (study.readerDifferenceMm * k2) ** 2 - equipmentMm ** 2 / (parts * rounds)));
  const gaugeMm = Math.hypot(equipmentMm, appraiserMm ?? 0);
  const k3 = K3[parts];
  const partMm = k3 === undefined ? undefined : study.partRangeMm * k3;
  return {
    parts,
    readers,
    rounds,
    equipmentMm,
    ...(appraiserMm !== undefined && { appraiserMm }),
    gaugeMm,
    ...(partMm !== undefined && { partMm }),
    ...(partMm !== undefined && gaugeMm > 0 && { categories: Math.floor((1.41 * partMm) / gaugeMm) }),
  };
}

const range = (values: readonly number[]): number => Math.max(...values) - Math.min(...values);

/** Applies the method to the points that every reader read in every round; undefined for fewer than two. */
export function repeatabilityOf(readings: readonly Reading[]): Repeatability | undefined {
  const readers = [...new Set(readings.map((r) => r.reader ?? ''))].sort();
  const cells = new Map<string, number[]>();
  // Names of check points contain no line break.
  const cell = (name: string, reader: string): string => `${name}\n${reader}`;
  for (const r of readings) addTo(cells, cell(r.name, r.reader ?? ''), r.valueMm);
  const rounds = Math.min(3, Math.max(0, ...[...cells.values()].map((values) => values.length)));
  const names = [...new Set(readings.map((r) => r.name))].filter((name) =>
    readers.every((reader) => (cells.get(cell(name, reader))?.length ?? 0) >= rounds),
  );
  const values = (name: string, reader: string): number[] => cells.get(cell(name, reader))!.slice(0, rounds);
  return averageAndRange({
    parts: names.length,
    readers: readers.length,
    rounds,
    meanRangeMm: mean(names.flatMap((name) => readers.map((reader) => range(values(name, reader))))),
    readerDifferenceMm: range(readers.map((reader) => mean(names.flatMap((name) => values(name, reader))))),
    partRangeMm: range(names.map((name) => mean(readers.flatMap((reader) => values(name, reader))))),
  });
}
