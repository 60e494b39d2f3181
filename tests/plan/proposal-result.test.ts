import { describe, expect, it } from 'vitest';
import type { FromScan } from '../../src/case/case.js';
import { otherAxes, type Vec3 } from '../../src/foundation/vector.js';
import { proposalResult } from '../../src/plan/proposal-result.js';
import type { Proposal } from '../../src/proposal/proposal.js';
import { loadRules } from '../../src/rules/load-rules.js';

const HASH = 'a1'.repeat(32);
const OTHER = 'b2'.repeat(32);
const rules = loadRules();
const CUBE = { positions: new Float64Array(9), triangles: new Uint32Array(3) };

const proposal = (changes: Partial<Proposal> = {}): Proposal => ({
  mesh: CUBE,
  endsMm: [{ name: 'A1', at: [1, 2, 3], calibreMm: 5, lumenHu: 350, levelHu: -230 }],
  labels: {
    size: [1, 1, 1],
    originMm: [0, 0, 0],
    directions: [
      [1, 0, 0],
      [0, 1, 0],
      [0, 0, 1],
    ],
    values: new Uint8Array(1),
  },
  unsure: [],
  unsureShare: 0,
  touching: [],
  report: [{ stage: 'growth', text: 'grown' }],
  ...changes,
});
const fromScan = (changes: Partial<FromScan> = {}): FromScan => ({
  ends: [],
  sac: [0, 0, 0],
  path: 'surfaces.from_scan',
  ...changes,
});
const same = (p: Vec3): Vec3 => p;
const judged = (given: Partial<FromScan>, changes: Partial<Proposal> = {}) =>
  proposalResult(proposal(changes), fromScan(given), HASH, same, rules);

describe('the confirmation of a surface from the scan', () => {
  it.each([
    ['nobody', {}, 'no', ['stop surface-not-confirmed']],
    ['a name alone', { confirmedBy: 'R. Reader' }, 'yes', ['caution confirmed-surface-not-named']],
    ['this surface', { confirmedBy: 'R. Reader', confirmedSurface: HASH }, 'yes', []],
    [
      'another surface',
      { confirmedBy: 'R. Reader', confirmedSurface: OTHER },
      'no',
      ['stop surface-not-confirmed'],
    ],
  ] as [string, Partial<FromScan>, string, string[]][])('%s', (_, given, confirmed, found) => {
    const { result, findings } = judged(given);
    expect(result.confirmed).toBe(confirmed);
    expect(findings.map(({ level, id }) => `${level} ${id}`)).toEqual(found);
    // whoever is to confirm it needs its hash
    for (const { text } of findings) expect(text).toContain(HASH);
    if (given.confirmedSurface === OTHER) expect(findings[0].text).toContain(OTHER);
    expect(result.not_confirmed_because === undefined).toBe(confirmed === 'yes');
  });
});

describe('what a surface from the scan leaves open', () => {
  const stretch = (share: number, near: string) => ({
    kind: 'low-contrast' as const,
    near,
    atMm: [4, 5, 6] as Vec3,
    lengthMm: 7,
    share,
  });

  it('unsure stretches are a note, a caution from a tenth of the area on, the largest first', () => {
    const few = judged({}, { unsure: [stretch(0.01, 'A1'), stretch(0.04, 'sac')], unsureShare: 0.0499 });
    expect(few.result.unsure.map(({ near }) => near)).toEqual(['sac', 'A1']);
    const levelOf = (findings: typeof few.findings): string | undefined =>
      findings.find(({ id }) => id === 'surface-unsure')?.level;
    expect(levelOf(few.findings)).toBe('note');
    expect(levelOf(judged({}, { unsure: [stretch(0.0999, 'A1')], unsureShare: 0.0999 }).findings)).toBe(
      'note',
    );
    expect(levelOf(judged({}, { unsure: [stretch(0.1, 'A1')], unsureShare: 0.1 }).findings)).toBe('caution');
    expect(few.findings.find(({ id }) => id === 'surface-unsure')?.text).toContain('5.0 % of the surface');
  });

  it('what touches and what is not opacified is named with its place', () => {
    const { findings } = judged(
      {},
      {
        touching: [{ at: [7, 8, 9], of: 'A1', contactMm: 1.5 }],
        thrombus: { mesh: CUBE, volumeMl: 1.25, at: [1, 1, 1] },
      },
    );
    const textOf = (id: string): string => findings.find((one) => one.id === id)?.text ?? '';
    expect(textOf('neighbour-parted')).toContain('touches A1 at [7.0, 8.0, 9.0] mm over 1.5 mm');
    expect(textOf('thrombus-apart')).toMatch(/About 1\.[23] mL .* at \[1\.0, 1\.0, 1\.0\] mm/);
  });

  it('every place is in the axes of the case', () => {
    const { result } = proposalResult(
      proposal({ unsure: [stretch(0.1, 'A1')], touching: [{ at: [7, 8, 9], of: 'A1', contactMm: 1 }] }),
      fromScan(),
      HASH,
      otherAxes,
      rules,
    );
    expect(result.ends[0].point_mm).toEqual([-1, -2, 3]);
    expect(result.unsure[0].point_mm).toEqual([-4, -5, 6]);
    expect(result.touching[0].point_mm).toEqual([-7, -8, 9]);
  });
});
