import { describe, expect, it } from 'vitest';
import { scanAdvice } from '../../src/plan/scan-advice.js';
import { loadRules } from '../../src/rules/load-rules.js';

const rules = loadRules();
const feeder = (calibre: number) => ({
  name: 'A1',
  role: 'feeder' as const,
  calibreMm: { min: calibre, mean: calibre, max: calibre },
});
const said = (sliceThicknessMm: number | undefined, ...calibres: number[]) =>
  scanAdvice({ scan: { sliceThicknessMm } }, calibres.map(feeder), rules);

describe('slice thickness against the thinnest feeder', () => {
  // twice the width of the blur: Rollano-Hijarrubia et al., Acad Radiol 2006;13:893
  it('warns below two slices, with the thickness that would be enough', () => {
    expect(said(1.2, 6, 2.4)).toEqual([]);
    const [found] = said(1.2, 6, 2.3);
    expect(found).toMatchObject({ id: 'scan-coarse', level: 'caution', where: 'A1' });
    expect(found.text).toContain('2.3 mm wide, less than 2 slices of 1.20 mm');
    expect(found.text).toContain('at most 1.15 mm');
  });
  // common practice, no source
  it('calls slices above 1.25 mm coarse', () => {
    expect(said(1.25, 6)).toEqual([]);
    expect(said(1.3, 6)).toMatchObject([{ id: 'scan-coarse', where: 'scan.slice_thickness' }]);
  });
  it('says nothing without thickness or feeder', () => {
    expect(said(undefined, 1)).toEqual([]);
    expect(said(3)).toEqual([]);
  });
});
