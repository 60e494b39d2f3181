import { describe, expect, it } from 'vitest';
import type { Vec3 } from '../../src/foundation/vector.js';
import { proposalResult } from '../../src/plan/proposal-result.js';
import type { Proposal } from '../../src/proposal/proposal.js';
import { UNSURE_WORDS } from '../../src/result/proposal.js';
import { numberOf } from '../../src/rules/rule.js';
import { RULES } from './make.js';

const HASH = 'ab'.repeat(32);
const OTHER = 'cd'.repeat(32);

const proposal: Omit<Proposal, 'mesh' | 'labels'> = {
  endsMm: [
    { name: 'A1', at: [1, 2, 3], calibreMm: 6.1, lumenHu: 312, levelHu: 14 },
    { name: 'V1', at: [4, 5, 6], calibreMm: Number.NaN, lumenHu: Number.NaN, levelHu: Number.NaN },
  ],
  unsure: [
    { kind: 'neighbour', near: 'A1', atMm: [7, 8, 9], lengthMm: 3.2, share: 0.0625 },
    { kind: 'low-contrast', near: 'sac', atMm: [10, 11, 12], lengthMm: 5.3, share: 0.125 },
  ],
  unsureShare: 0.25,
  touching: [{ at: [13, 14, 15], of: 'A1', contactMm: 2.4 }],
  thrombus: { mesh: {} as never, volumeMl: 1.7, at: [16, 17, 18] },
  report: [{ stage: 'grow', text: 'Grown from one point.' }],
};

/** RAS of the case from LPS of the scan. */
const toCase = ([x, y, z]: Vec3): Vec3 => [-x, -y, z];

const resultOf = (
  given: { confirmedBy?: string; confirmedSurface?: string } = {},
  more: Partial<Proposal> = {},
) =>
  proposalResult(
    { ...proposal, ...more } as Proposal,
    { ends: [], sac: [0, 0, 0], path: 'surfaces.from_scan', ...given } as never,
    HASH,
    toCase,
    RULES,
  );

describe('a surface made from the scan, in the result', () => {
  it('every value, with positions in the axes of the case and the largest uncertain stretch first', () => {
    expect(resultOf({ confirmedBy: 'A reader', confirmedSurface: HASH }).result).toEqual({
      confirmed: 'yes',
      confirmed_by: 'A reader',
      surface_sha256: HASH,
      unsure_percent: 25,
      unsure: [
        { kind: 'low-contrast', near: 'sac', point_mm: [-10, -11, 12], length_mm: 5.3, share_percent: 12.5 },
        { kind: 'neighbour', near: 'A1', point_mm: [-7, -8, 9], length_mm: 3.2, share_percent: 6.25 },
      ],
      ends: [
        { name: 'A1', point_mm: [-1, -2, 3], calibre_mm: 6.1, lumen_hu: 312, level_hu: 14 },
        { name: 'V1', point_mm: [-4, -5, 6] },
      ],
      touching: [{ of: 'A1', point_mm: [-13, -14, 15], contact_mm: 2.4 }],
      thrombus: { volume_ml: 1.7, point_mm: [-16, -17, 18] },
      steps: [{ stage: 'grow', text: 'Grown from one point.' }],
    });
    expect(resultOf({}, { thrombus: undefined }).result).not.toHaveProperty('thrombus');
  });

  it('is confirmed only by a name and its own hash', () => {
    const said = (given: Parameters<typeof resultOf>[0]) => {
      const { result, findings } = resultOf(given, { unsure: [], touching: [], thrombus: undefined });
      return [result.confirmed, ...findings.map(({ id, level }) => `${id} ${level}`)];
    };
    expect(said({ confirmedBy: 'A reader', confirmedSurface: HASH })).toEqual(['yes']);
    expect(said({ confirmedBy: 'A reader' })).toEqual(['yes', 'confirmed-surface-not-named caution']);
    expect(said({})).toEqual(['no', 'surface-not-confirmed stop']);
    expect(said({ confirmedBy: 'A reader', confirmedSurface: OTHER })).toEqual([
      'no',
      'surface-not-confirmed stop',
    ]);
    expect(resultOf({}).result.not_confirmed_because).toBe('no reader has confirmed it');
    expect(resultOf({}).result).not.toHaveProperty('confirmed_by');
    const another = resultOf({ confirmedBy: 'A reader', confirmedSurface: OTHER }).result;
    expect(another.not_confirmed_because).toContain(OTHER);
    expect(another.confirmed_by).toBe('A reader');
  });

  it('a vessel separated from it and a part of the sac without contrast are cautions, each with its place', () => {
    const said = (more: Partial<Proposal>) =>
      resultOf({ confirmedBy: 'A reader', confirmedSurface: HASH }, { unsure: [], ...more }).findings;
    const [parted, apart, ...rest] = said({});
    expect(rest).toEqual([]);
    expect(parted).toMatchObject({ id: 'neighbour-parted', level: 'caution', where: 'A1' });
    expect(parted.text).toContain('[-13.0, -14.0, 15.0] mm over 2.4 mm');
    expect(apart).toMatchObject({ id: 'thrombus-apart', level: 'caution', where: 'surfaces.from_scan' });
    expect(apart.text).toMatch(/^About 1\.7 mL .* \[-16\.0, -17\.0, 18\.0\] mm/);
    expect(said({ touching: [], thrombus: undefined })).toEqual([]);
  });

  it('the five largest uncertain stretches are named, the others counted', () => {
    const stretch = (lengthMm: number): Proposal['unsure'][number] => ({
      kind: 'neighbour',
      near: `A${lengthMm}`,
      atMm: [1, 2, 3],
      lengthMm,
      share: lengthMm / 100,
    });
    const text = (...lengths: number[]): string =>
      resultOf({}, { unsure: lengths.map(stretch) }).findings.find(({ id }) => id === 'surface-unsure')!.text;
    const words = UNSURE_WORDS.neighbour;
    const named = (...lengths: number[]): string =>
      lengths.map((mm) => `A${mm}, ${words}, ${mm} mm about [-1.0, -2.0, 3.0] mm`).join('; ');
    const end = '. Look at these places on the slices.';
    expect(text(1, 2, 3, 4, 5)).toBe(
      `The wall is unsure on 25.0 % of the surface: ${named(5, 4, 3, 2, 1)}${end}`,
    );
    expect(text(7, 1, 2, 3, 6, 4, 5)).toBe(
      `The wall is unsure on 25.0 % of the surface: ${named(7, 6, 5, 4, 3)}; 2 more in surfaces/report.md${end}`,
    );
  });

  it('is a caution from the limit of the rule on', () => {
    const limit = numberOf(RULES, 'proposal-unsure');
    const level = (percent: number): string | undefined =>
      resultOf({}, { unsureShare: percent / 100 }).findings.find(({ id }) => id === 'surface-unsure')?.level;
    expect([level(limit - 0.01), level(limit)]).toEqual(['note', 'caution']);
  });
});
