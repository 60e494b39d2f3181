import { describe, expect, it } from 'vitest';
import { printRules, type PrintProcess } from '../../src/print/process.js';
import { numberOf, rulesOf } from '../../src/rules/rule.js';
import { rules } from './make.js';

/** Where each rule of a process is in what the print works with, by the words after the name of the process. */
const fieldOf = ({ process, peg, ...found }: ReturnType<typeof printRules>): Record<string, unknown> => ({
  wall: process?.wallMm,
  pin: process?.pinMm,
  hole: process?.holeMm,
  gap: process?.gapMm,
  tolerance: process?.toleranceMm,
  drain: process?.drainMm,
  density: process?.densityGCm3,
  overhang: process?.overhang?.deg,
  support: process?.overhang?.supportFraction,
  infill: process?.infill?.fraction,
  skin: process?.infill?.skinMm,
  'rate-low': process?.rate.low,
  'rate-high': process?.rate.high,
  peg: peg.leastMm,
  fit: peg.fitMm,
  trueness: found.deviationMm,
});
const PROCESSES: PrintProcess[] = [
  'material-extrusion',
  'vat-photopolymerisation',
  'material-jetting',
  'powder-bed',
];

describe.each(PROCESSES)('the rules of %s', (process) => {
  const found = printRules(rules, process);
  const own = rulesOf(rules, 'number').filter(({ id }) => id.startsWith(`${process}-`));

  it('each is in its own place, and in no other', () => {
    const fields = fieldOf(found);
    const named = own.filter(({ id }) => !id.endsWith('-published-deviation'));
    expect(named.length).toBeGreaterThanOrEqual(12);
    for (const { id, value } of named)
      expect([id, fields[id.slice(process.length + 1)]]).toEqual([id, value]);
    // what the process has no rule for is absent
    for (const word of ['drain', 'overhang', 'support', 'infill', 'skin'])
      if (!rules.byId.has(`${process}-${word}`)) expect([word, fields[word]]).toEqual([word, undefined]);
  });

  it('has a range of rates, fractions of a whole, and the text on its published deviation', () => {
    expect(found.process!.wallMm).toBeGreaterThan(0.1);
    expect(found.process!.rate.low).toBeLessThan(found.process!.rate.high);
    expect(found.process!.overhang?.supportFraction ?? 0).toBeLessThanOrEqual(1);
    expect(found.process!.infill?.fraction ?? 1).toBeLessThanOrEqual(1);
    expect(found.accuracy[0].text).toBe(rules.byId.get(`${process}-published-deviation`)!.text);
  });
});

it('what no process changes is in its own place', () => {
  const found = printRules(rules);
  expect(found.process).toBeUndefined();
  const { peg, strut } = found;
  const places: Record<string, number> = {
    'print-tolerance': found.deviationMm,
    'print-calibre-share': found.calibreShare,
    'print-span-share': found.spanShare,
    'print-device-step': found.deviceStep,
    'print-bias-least': found.biasLeastMm,
    'print-scale-least': found.scaleLeast,
    'print-scale-error': found.scaleError,
    'print-caliper-repeatability': found.caliperSigmaMm,
    'print-caliper-least': found.caliperLeastMm,
    'print-point-coverage': found.pointCoverage,
    'print-least-readings': found.leastReadings,
    'print-largest-hole': found.largestHoleMm,
    'print-largest-island': found.largestIsland,
    'print-peg-length': peg.lengthRatio,
    'print-peg-largest': peg.largestMm,
    'print-peg-least': peg.leastMm,
    'print-peg-fit': peg.fitMm,
    'print-strut-least': strut.leastMm,
    'print-strut-slenderness': strut.slenderness,
    'print-strut-longest': strut.longestMm,
    'segmentation-published-deviation': found.segmentationMm,
  };
  const ids = rulesOf(rules, 'number').map(({ id }) => id);
  expect(ids.filter((id) => /^(print|segmentation)-/.test(id)).sort()).toEqual(Object.keys(places).sort());
  for (const [id, value] of Object.entries(places)) expect([id, value]).toEqual([id, numberOf(rules, id)]);
});
