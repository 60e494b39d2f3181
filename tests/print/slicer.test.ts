import { spawnSync } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, describe, expect, it } from 'vitest';
import { heronLesion, ploverLesion } from '../../src/phantoms/demo-lesions.js';
import { randomLesion } from '../../src/phantoms/random-lesion.js';
import type { PrintPackage } from '../../src/print/assemble-package.js';
import { preparePrint } from '../../src/print/prepare-print.js';
import { printFiles } from '../../src/print/print-files.js';
import { IS_LONG } from '../geometry/make.js';
import { has, inputOf } from './make.js';

// Outside check: a slicer for material extrusion reads every exported file, as the workshop's would. It exits with 0 and
// writes G-code even for a mesh full of holes, so only what it says counts, never its exit code alone.
const SLICER = 'prusa-slicer';

const folder = mkdtempSync(join(tmpdir(), 'sliced-'));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

function slicer(...args: string[]): string {
  // Its own settings: those of whoever runs the tests must not matter.
  const ran = spawnSync(SLICER, ['--datadir', join(folder, 'settings'), ...args], {
    encoding: 'utf8',
    maxBuffer: 1 << 26,
    timeout: 120_000,
  });
  if (ran.error) throw ran.error;
  return `exit ${ran.status}\n${ran.stdout}${ran.stderr}`;
}

/** What the slicer says of each body of a file: `manifold`, `open_edges`, `volume` and more, as text. */
function bodiesOf(file: string): Record<string, string>[] {
  return slicer('--info', file)
    .split(/^\[.*\.(?:stl|3mf)\]$/m)
    .slice(1)
    .map((block) =>
      Object.fromEntries(
        [...block.matchAll(/^(\w+) = +(\S+)$/gm)].map((m): [string, string] => [m[1], m[2]]),
      ),
    );
}

/** G-code of a file on a large enough bed, and everything said while it was made. */
function sliced(file: string): { said: string; extrusions: number } {
  const gcode = `${file}.gcode`;
  const said = slicer('--export-gcode', '--center', '100,100', '-o', gcode, file);
  return { said, extrusions: readFileSync(gcode, 'utf8').match(/^G1 .*E\d*\.?\d+/gm)?.length ?? 0 };
}

const COMPLAINT = /repair|open edge|degenerate|self-intersect|error|fail|invalid|could not|empty layer/i;

const process = 'material-extrusion' as const;
const lesions = {
  'random lesion 8': () => inputOf(randomLesion(8)),
  'plover, cut': () => inputOf(ploverLesion(), { process, cut: { by: 'neck', vessel: 'A1' } }),
  'heron with struts': () => inputOf(heronLesion(), { process, struts: 'yes' }),
};
const packs = new Map<string, Promise<PrintPackage>>();
const packOf = (name: keyof typeof lesions): Promise<PrintPackage> => {
  const pack = packs.get(name) ?? preparePrint(lesions[name]());
  packs.set(name, pack);
  return pack;
};

function written(path: string, bytes: Uint8Array): string {
  const file = join(folder, path);
  writeFileSync(file, bytes);
  return file;
}

describe.skipIf(!has(SLICER))('an outside slicer', () => {
  it.each(
    (Object.keys(lesions) as (keyof typeof lesions)[]).filter((name) => IS_LONG || name === 'plover, cut'),
  )(
    'finds every part of %s closed, with our volume, and slices it without a complaint',
    async (name) => {
      const pack = await packOf(name);
      const files = printFiles(pack);
      const parts = files.filter((f) => f.path.endsWith('.stl'));
      expect(parts.length).toBe(pack.parts.length);
      parts.forEach((part, i) => {
        const file = written(part.path, part.bytes);
        const bodies = bodiesOf(file);
        expect([part.path, bodies.length]).toEqual([part.path, 1]);
        const [body] = bodies;
        expect({ path: part.path, ...body }).toMatchObject({
          manifold: 'yes',
          number_of_parts: '1',
          number_of_facets: String(pack.parts[i].mesh.triangles.length / 3),
        });
        expect(body).not.toHaveProperty('open_edges');
        const { volumeMm3 } = pack.parts[i].check;
        // It sums in 32-bit numbers.
        expect(Math.abs(Number(body.volume) - volumeMm3) / volumeMm3).toBeLessThan(1e-3);
        // Rods and stems end in a curved wall: alone they stand on a point; they are printed with what they hold.
        if (pack.parts[i].role === 'strut' || pack.parts[i].name === 'tag-B') return;
        const { said, extrusions } = sliced(file);
        expect(said).toMatch(/^exit 0\n/);
        expect(said).toContain('Slicing result exported');
        expect(said).not.toMatch(COMPLAINT);
        expect(extrusions).toBeGreaterThan(100);
      });
    },
    300_000,
  );

  it('reads the bodies of the 3MF one by one, each closed', async () => {
    const pack = await packOf('random lesion 8');
    const model = printFiles(pack).find((f) => f.path === 'model.3mf')!;
    const bodies = bodiesOf(written('model.3mf', model.bytes));
    // The structures of the fused model are in the file but not in the build.
    const printed = pack.bed.map(({ part }) => part);
    expect(bodies.map((b) => b.number_of_facets)).toEqual(
      printed.map((p) => String(p.mesh.triangles.length / 3)),
    );
    for (const body of bodies) {
      expect(body.manifold).toBe('yes');
      expect(body).not.toHaveProperty('open_edges');
    }
  }, 120_000);

  it('would report holes, though it slices them and exits with 0', async () => {
    const pack = await packOf('random lesion 8');
    const whole = printFiles(pack).find((f) => f.path === 'B1.stl')!.bytes;
    const left = Math.floor((whole.length - 84) / 50) - 3;
    const holed = whole.slice(0, 84 + 50 * left);
    new DataView(holed.buffer).setUint32(80, left, true);
    const file = written('holed.stl', holed);
    const [body] = bodiesOf(file);
    expect(body.manifold).toBe('no');
    expect(Number(body.open_edges)).toBeGreaterThan(0);
    expect(sliced(file).said).toMatch(/^exit 0\n/);
  }, 120_000);
});
