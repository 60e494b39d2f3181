import { cpSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it, vi } from 'vitest';
import { run as inspect } from '../../src/cli/commands/inspect.js';
import { planResult } from '../../src/cli/plan/plan-files.js';
import { measureCase } from '../../src/cli/measure/measure-case.js';
import { loadSurface } from '../../src/mesh/load-surface.js';
import { writeStl } from '../../src/mesh/write-stl.js';
import { tornAt } from '../mesh/cracks.js';
import { scaled } from '../../src/mesh/transform.js';
import { capture } from './capture.js';

// generous: the machine may be busy
vi.setConfig({ testTimeout: 180_000, hookTimeout: 180_000 });

const folder = mkdtempSync(join(tmpdir(), 'mend-'));
afterAll(() => rmSync(folder, { recursive: true, force: true }));
const mesh = join(folder, 'meshes/lesion.stl');
const file = join(folder, 'case.yaml');
let text = '';

const withMend = (mend: string): string => {
  writeFileSync(file, text.replace('  frame: LPS\n', `  frame: LPS\n  mend: ${mend}\n`));
  return file;
};

describe('a lesion with 44 cracks of a tenth of a millimetre', () => {
  beforeAll(async () => {
    cpSync('cases/plover-whole', folder, { recursive: true });
    text = readFileSync(file, 'utf8');
    const { mesh: whole } = await loadSurface(mesh, { unitMm: 1, label: 'whole' });
    writeFileSync(mesh, writeStl(tornAt(whole, 44, 0.1)));
  });

  it('is refused, and the message gives the line that closes them', async () => {
    await expect(measureCase(file)).rejects.toThrow(
      /open in 44 places that are no planar vessel end: \[.*\] mm, 0\.\d\d mm wide and \d\.\d mm long: a crack; .*and 39 narrower\. Write "mend: 0\.1\d mm" under surfaces/,
    );
  });

  it('is refused where they are wider than stated, with the width needed', async () => {
    await expect(measureCase(withMend('0.02 mm'))).rejects.toThrow(
      /surfaces\.mend closes cracks up to 0\.02 mm\. Write "mend: 0\.1\d? mm"/,
    );
  });

  it('is measured like the intact lesion once they may be closed, with each crack in the result', async () => {
    const { result } = await planResult(await measureCase(withMend('0.15 mm')));
    expect(result.mended).toHaveLength(44);
    for (const crack of result.mended!) {
      expect(crack.width_mm).toBeLessThanOrEqual(0.15);
      expect(crack.structure).toBe('whole');
    }
    const said = result.findings.filter(({ id }) => id === 'cracks-mended');
    expect(said).toHaveLength(1);
    expect(said[0].text).toMatch(
      /^44 cracks up to 0\.1\d mm wide were closed .*no vertex was moved \(0\.00 mm\)/,
    );
    expect(result.findings.map(({ id }) => id)).not.toContain('open-surface');
    expect(result.findings.map(({ id }) => id)).not.toContain('not-used-yet');
    // the values of the intact lesion, from its answer key
    expect(Math.abs(result.vessels.A1.length_mm! - 63.8)).toBeLessThan(2);
    expect(Math.abs(result.vessels.A1.landing!.calibre_mm - 6.83)).toBeLessThan(0.1);
    expect(Math.abs(result.sac!.volume_ml - 5.9)).toBeLessThan(0.1);
  });

  it('inspect tells them from ends and lists them widest first, in steps of 0.01 mm even where the unit is a metre', async () => {
    const { mesh: torn } = await loadSurface(mesh, { unitMm: 1, label: 'whole' });
    const metres = join(folder, 'metres.stl');
    writeFileSync(metres, writeStl(scaled(torn, 0.001)));
    const { out } = await capture((t) => inspect([metres], { unit: 'm' }, t));
    expect(out).toMatch(/open ends {12}none/);
    expect(out).toMatch(
      /cracks and holes {5}44, up to 0\.\d\d mm wide; a case closes them with surfaces\.mend/,
    );
    expect(out).toMatch(/A +at \(-?0\.\d{5}, -?0\.\d{5}, -?0\.\d{5}\) m, 0\.\d\d mm wide/);
    expect(out).toContain('and 34 narrower');
    const json = JSON.parse((await capture((t) => inspect([metres], { unit: 'm', json: true }, t))).out);
    const widths = json.objects[0].open_ends.map((end: { width_mm: number }) => end.width_mm);
    expect(widths).toHaveLength(44);
    expect(widths).toEqual([...widths].sort((a, b) => b - a));
  });
});
