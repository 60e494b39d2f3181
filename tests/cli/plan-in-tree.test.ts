import { mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it, vi } from 'vitest';
import { run as plan } from '../../src/cli/commands/plan.js';
import { writeStl } from '../../src/mesh/write-stl.js';
import { wholeMesh } from '../../src/phantoms/lesion.js';
import type { Result } from '../../src/result/result.generated.js';
import { axes, tree } from '../geometry/forked-tree.js';
import { capture } from './capture.js';

// generous: the machine may be busy
vi.setConfig({ testTimeout: 180_000, hookTimeout: 180_000 });

const folder = mkdtempSync(join(tmpdir(), 'left-out-'));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

const read = (path: string): string => readFileSync(join(folder, 'plan', path), 'utf8');

describe('the plan of a lesion in a vascular tree', () => {
  beforeAll(async () => {
    mkdirSync(folder, { recursive: true });
    writeFileSync(join(folder, 'tree.stl'), writeStl(wholeMesh(tree(), 0.65).mesh));
    const at = (name: string, atMm: number): string =>
      `[${axes
        .get(name)!
        .axis.pointAt(atMm)
        .map((x) => x.toFixed(3))
        .join(', ')}]`;
    const text = `format: pavm-case/1
id: forked
purpose: demo
scan: { date: 2026-03-14, slice_thickness: 0.8 mm, in_plane: 0.7 mm }
lesion: { side: left, lobe: lower }
surfaces:
  unit: mm
  frame: LPS
  whole:
    mesh: tree.stl
    ends:
      - { name: A1, role: feeder, at: ${at('A1', 24)} }
      - { name: V1, role: drain, at: ${at('V1', 20)} }
    sac: [0, 0, 0]
`;
    writeFileSync(join(folder, 'case.yaml'), text);
    await capture((t) => plan([folder], { out: join(folder, 'plan') }, t));
  });

  it('counts what is left out, and measures only the part', () => {
    const result = JSON.parse(read('result.json')) as Result;
    expect(result.left_out).toMatchObject({ pieces: 2, past: ['A1', 'V1'] });
    expect(result.left_out!.share_percent).toBeGreaterThan(5);
    expect(result.findings.find(({ id }) => id === 'left-out')!.text).toContain('A1 and V1');
    // prints the lumen of sac and vessels only up to the points
    const printed = result.print!.parts.find(({ name }) => name === 'lesion')!;
    const partMl =
      (result.left_out!.volume_ml * (100 - result.left_out!.share_percent)) / result.left_out!.share_percent;
    expect(printed.volume_ml / partMl).toBeGreaterThan(0.95);
    expect(printed.volume_ml / partMl).toBeLessThan(1.05);
  });

  it('draws the rest pale, named in the legend, on figures and page', () => {
    expect(read('figures/views.svg')).toContain('left out past the points of the case');
    const data = /<script type="application\/json"[^>]*>(.*?)<\/script>/s.exec(read('page.html'))![1];
    expect(data).toContain('"role":"left-out"');
  });
});
