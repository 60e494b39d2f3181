import {
  cpSync,
  existsSync,
  mkdirSync,
  mkdtempSync,
  readdirSync,
  readFileSync,
  rmSync,
  writeFileSync,
} from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, describe, expect, it } from 'vitest';
import { run as inspect } from '../../src/cli/commands/inspect.js';
import { run } from '../../src/cli/commands/print.js';
import { capture } from './capture.js';

const folder = mkdtempSync(join(tmpdir(), 'print-'));
afterAll(() => rmSync(folder, { recursive: true }));
const out = join(folder, 'heron-print');
const heron = capture((t) => run(['cases/heron'], { out }, t));

/** Every file of a folder with its bytes. */
function filesOf(dir: string): Record<string, string> {
  return Object.fromEntries(
    readdirSync(dir, { recursive: true, withFileTypes: true })
      .filter((e) => e.isFile())
      .map((e) => [
        join(e.parentPath, e.name).slice(dir.length + 1),
        readFileSync(join(e.parentPath, e.name), 'base64'),
      ]),
  );
}

describe('pavm print', () => {
  it('writes parts, the fused model, the 3MF, gauges.md and a figure for each check point', async () => {
    const { code, out: text, err } = await heron;
    expect(code).toBe(0);
    expect(text).toContain('model.stl');
    expect(text).toContain('watertight');
    expect(err).toContain('gauges.md');
    const names = Object.keys(filesOf(out));
    expect(names).toEqual(
      expect.arrayContaining([
        'model.stl',
        'A1.stl',
        'V1.stl',
        'sac.stl',
        'tag.stl',
        'bronchus.stl',
        'heart.stl',
        'model.3mf',
        'gauges.md',
        'gauge-card.html',
      ]),
    );
    const card = readFileSync(join(out, 'gauge-card.html'), 'utf8');
    expect(card).toContain('Not for choosing a device size');
    const document = readFileSync(join(out, 'gauges.md'), 'utf8');
    const rows = document.match(/^\| G\d+ .*\|\s+± \d\.\d\d \| +\|$/gm) ?? [];
    expect(rows.length).toBeGreaterThanOrEqual(8);
    expect(card.match(/<b>G\d+<\/b>/g)).toHaveLength(rows.length);
    for (const [, figure] of document.matchAll(/\]\((gauges\/G\d+\.svg)\)/g))
      expect(existsSync(join(out, figure))).toBe(true);
    expect(names.filter((n) => n.endsWith('.svg'))).toHaveLength(rows.length);
    for (const part of [
      '## Provenance',
      '## Cautions',
      'not for the care of a patient',
      'mesh',
      '3D Print Med 2024;10:9',
      'as none is published (common practice, no source)',
      'assumed density',
    ])
      expect(document).toContain(part);
  }, 180_000);

  it('--json prints the numbers with units in their keys; a second run replaces the folder with the same bytes', async () => {
    await heron;
    const before = filesOf(out);
    const { out: text } = await capture((t) => run(['cases/heron'], { out, json: true }, t), { quiet: true });
    const json = JSON.parse(text);
    expect(json).toMatchObject({
      format: 'pavm-print/1',
      case: 'heron',
      print: { scale: 1, process: 'vat-photopolymerisation', hollow: false },
    });
    for (const part of json.print.parts)
      expect(part).toMatchObject({
        watertight: true,
        triangles: expect.any(Number),
        volume_ml: expect.any(Number),
      });
    expect(json.print.gauges.length).toBeGreaterThanOrEqual(8);
    expect(json.files.length).toBe(Object.keys(before).length);
    expect(filesOf(out)).toEqual(before);
  }, 180_000);

  it('a case that asks for a cut, struts and its printer gets halves, rods and fit, and inspect reads all of it back', async () => {
    const dir = join(folder, 'cut');
    cpSync('cases/heron', dir, { recursive: true });
    const path = join(dir, 'case.yaml');
    writeFileSync(
      path,
      readFileSync(path, 'utf8').replace(
        /^print:.*$/m,
        'print: { process: material-extrusion, cut: { neck: V1 }, build_volume: [20 cm, 20 cm, 5 cm] }',
      ),
    );
    const to = join(dir, 'print');
    const { code, out: said } = await capture((t) => run([path], { out: to, json: true, dicom: true }, t), {
      quiet: true,
    });
    expect(code).toBe(0);
    const { print, files, findings } = JSON.parse(said);
    expect(files).toEqual(expect.arrayContaining(['half-A.stl', 'half-B.stl', 'model.stl', 'model.dcm']));
    expect(print.cut).toMatchObject({ vessel: 'V1', pegs: [{ fit_mm: 0.25 }] });
    expect(print.build_volume.inside_mm).toEqual([200, 200, 50]);
    expect(findings.map((f: { id: string }) => f.id)).toContain('print-cut');
    const read = async (name: string) =>
      JSON.parse((await capture((t) => inspect([join(to, name)], { json: true }, t))).out);
    const volumes = Object.fromEntries(
      print.parts.map((p: { name: string; volume_ml: number }) => [p.name, p.volume_ml]),
    );
    for (const name of ['half-A', 'half-B', 'model'])
      expect((await read(`${name}.stl`)).objects[0].volume_ml).toBeCloseTo(volumes[name], 3);
    const package3mf = await read('model.3mf');
    expect(package3mf.unit.stated).toBe('mm');
    expect(package3mf.objects.map((o: { name: string }) => o.name)).toEqual([
      'half-A',
      'half-B',
      'bronchus',
      'heart',
    ]);
    for (const object of package3mf.objects) expect(object.volume_ml).toBeCloseTo(volumes[object.name], 2);
    expect((await read('model.dcm')).objects[0].volume_ml).toBeCloseTo(volumes.model, 3);
    const document = readFileSync(join(to, 'gauges.md'), 'utf8');
    for (const line of ['## Halves and rods', 'Peg on half-', '200.0 x 200.0 x 50.0 mm inside', 'hours'])
      expect(document).toContain(line);
  }, 180_000);

  it.each([{ patientId: '1' }, { patientName: 'A^B' }, { frameOfReference: '1.2' }])(
    '%o without --dicom is refused',
    async (options) => {
      await expect(capture((t) => run(['cases/heron'], options, t))).rejects.toMatchObject({ exitCode: 2 });
    },
  );

  it('does not claim the scan’s frame of reference for a scaled model', async () => {
    const options = { out: join(folder, 'scaled'), dicom: true, frameOfReference: '1.2.3' };
    // cases/wren is printed at scale 2.
    await expect(capture((t) => run(['cases/wren'], options, t))).rejects.toMatchObject({
      exitCode: 2,
      message: expect.stringContaining('scaled'),
    });
  }, 180_000);

  it('reveals nothing about the machine it ran on', async () => {
    await heron;
    for (const [name, bytes] of Object.entries(filesOf(out)))
      if (/\.(md|svg)$/.test(name)) expect(Buffer.from(bytes, 'base64').toString()).not.toContain(folder);
  }, 180_000);

  it('does not replace a foreign folder, and leaves it unchanged', async () => {
    const foreign = join(folder, 'foreign');
    mkdirSync(foreign);
    writeFileSync(join(foreign, 'thesis.txt'), 'mine');
    await expect(capture((t) => run(['cases/wren'], { out: foreign }, t))).rejects.toMatchObject({
      exitCode: 5,
    });
    expect(readdirSync(foreign)).toEqual(['thesis.txt']);
  }, 180_000);

  it('has nothing to print without surfaces', async () => {
    const dir = join(folder, 'bare');
    cpSync('cases/heron', dir, { recursive: true });
    const path = join(dir, 'case.yaml');
    writeFileSync(
      path,
      readFileSync(path, 'utf8')
        .replace(/^surfaces:\n( .*\n)+/m, '')
        .replace(/^expected:\n( .*\n)+/m, ''),
    );
    await expect(capture((t) => run([path], {}, t))).rejects.toMatchObject({
      exitCode: 2,
      message: expect.stringMatching(/^case\.yaml:\d+:\d+ surfaces: /),
    });
  });

  it.each([[[]], [['a', 'b']]])('needs one case, not %o', async (args) => {
    await expect(capture((t) => run(args, {}, t))).rejects.toMatchObject({
      exitCode: 2,
      message: expect.stringContaining('one CASE'),
    });
  });
});
