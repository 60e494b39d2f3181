import { mkdtempSync, readdirSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, describe, expect, it } from 'vitest';
import { elementsOf } from '../report/svg-texts.js';
import { SECRETS } from '../volume/ct/ct-bytes.js';
import { lesionAt, writeSceneCase } from '../witness/scene-case.js';
import { syntheticCt } from '../witness/synthetic-ct.js';
import { pavm } from './run-pavm.js';

const work = mkdtempSync(join(tmpdir(), 'pavm-scan-pictures-'));
afterAll(() => rmSync(work, { recursive: true, force: true }));

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
