import { mkdtempSync, readdirSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, describe, expect, it } from 'vitest';
import type { LesionPlan } from '../../src/phantoms/lesion.js';
import { elementsOf } from '../report/svg-texts.js';
import { SECRETS } from '../volume/ct/ct-bytes.js';
import { lesionAt, writeSceneCase } from '../witness/scene-case.js';
import { syntheticCt } from '../witness/synthetic-ct.js';
import { pavm } from './run-pavm.js';

const work = mkdtempSync(join(tmpdir(), 'pavm-scan-pictures-'));
afterAll(() => rmSync(work, { recursive: true, force: true }));

describe('pavm plan where the surfaces miss a feeder and include a thrombus', { timeout: 120_000 }, () => {
  it('stops, names both with their places, and asks about them in the checklist', () => {
    const round = (calibreMm: number): LesionPlan['vessels'][number]['calibre'] => ({
      kind: 'constant',
      calibreMm,
    });
    const truth: LesionPlan = {
      name: 'missed',
      sac: { centreMm: [62, 21, -48], semiAxesMm: [11, 11, 11] },
      vessels: [
        {
          name: 'A1',
          role: 'feeder',
          axisMm: [
            [92, 21, -48],
            [70, 21, -48],
          ],
          calibre: round(5),
        },
        {
          name: 'A2',
          role: 'feeder',
          axisMm: [
            [62, 51, -48],
            [62, 29, -48],
          ],
          calibre: round(4),
        },
        {
          name: 'V1',
          role: 'drain',
          axisMm: [
            [32, 21, -48],
            [54, 21, -48],
          ],
          calibre: round(6),
        },
      ],
      neighbours: [],
      blendMm: 0.5,
    };
    const folder = join(work, 'missed');
    const thrombus = [{ at: [62, 21, -42] as [number, number, number], radiusMm: 4.9 }];
    const volume = syntheticCt(truth, {
      spacing: [0.9, 0.9, 0.9],
      marginMm: 6,
      blurMm: 0.9,
      noiseHu: 15,
      thrombus,
    });
    const vessels = truth.vessels.filter(({ name }) => name !== 'A2');
    writeSceneCase(folder, 'missed', { ...truth, vessels }, volume);
    const ran = pavm(['plan', folder]);
    expect(ran.code).toBe(1);
    expect(ran.stderr).toMatch(/stop sac: An opacified vessel joins the sac and is in no surface/);
    const result = JSON.parse(readFileSync(join(folder, 'plan', 'result.json'), 'utf8'));
    expect(result.missed).toMatchObject([{ kind: 'feeder-candidate', joins: 'sac' }]);
    const [{ point_mm, calibre_mm, could_carry_percent }] = result.missed;
    expect(Math.abs(calibre_mm - 4)).toBeLessThan(0.3);
    expect(Math.hypot(point_mm[0] - 62, point_mm[2] + 48)).toBeLessThan(0.75);
    expect(could_carry_percent[0]).toBeGreaterThan(20);
    expect(result.uncontrasted).toMatchObject([{ where: 'sac' }]);
    expect(result.uncontrasted[0].volume_ml).toBeGreaterThan(0.35);
    expect(result.uncontrasted[0].volume_ml).toBeLessThan(0.65);
    expect(result.checklist).toContainEqual(
      expect.objectContaining({ id: 'missed-feeder-item', level: 'caution' }),
    );
    expect(readdirSync(join(folder, 'plan', 'figures'))).toContain('scan-missed-1.svg');
    expect(readFileSync(join(folder, 'plan', 'plan.md'), 'utf8')).toMatch(
      /An opacified vessel joins the sac/,
    );
  });
});

describe('pavm plan with a series', { timeout: 120_000 }, () => {
  const lesion = lesionAt(8, [62, 21, -48]);
  const folder = join(work, 'case');
  writeSceneCase(
    folder,
    'scene',
    lesion,
    syntheticCt(lesion, { spacing: [1, 1, 1], marginMm: 6, chestWallX: 88 }),
  );
  const plan = join(folder, 'plan');

  it('writes pictures of the scan, in the plan and on its printable page, without an identifier', () => {
    const ran = pavm(['plan', folder, '--html']);
    expect(ran.stderr).not.toMatch(/stop/);
    expect(ran.code).toBe(0);
    const figures = readdirSync(join(plan, 'figures')).filter((name) => name.startsWith('scan-'));
    expect(figures).toEqual(['scan-of-A1.svg', 'scan-sac.svg']);
    for (const name of figures) {
      const images = elementsOf(readFileSync(join(plan, 'figures', name), 'utf8')).filter(
        (element) => element.name === 'image',
      );
      expect(images.length).toBe(name === 'scan-sac.svg' ? 3 : 5);
    }
    const text = readFileSync(join(plan, 'plan.md'), 'utf8');
    expect(text).toMatch(/## The surfaces in the scan[\s\S]+\(figures\/scan-of-A1\.svg\)[\s\S]+## Figures/);
    const paper = readFileSync(join(plan, 'plan.html'), 'utf8');
    expect(paper.match(/href="data:image\/png;base64,/g)?.length).toBeGreaterThanOrEqual(8);
    const page = readFileSync(join(plan, 'page.html'), 'utf8');
    expect(page).toContain('id="slice-across"');
    expect(page).toMatch(/A crop of 0\.\d\d million voxels of \d\.\d\d mm/);
    for (const file of readdirSync(plan, { recursive: true, withFileTypes: true })) {
      if (!file.isFile()) continue;
      const bytes = readFileSync(join(file.parentPath, file.name), 'latin1');
      for (const secret of SECRETS) expect(bytes.includes(secret), `${secret} in ${file.name}`).toBe(false);
    }
  });
});
