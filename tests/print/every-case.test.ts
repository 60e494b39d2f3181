import { spawnSync } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, describe, expect, it } from 'vitest';
import { demoCases } from '../../src/phantoms/demo-cases.js';
import { teachingCases } from '../../src/phantoms/teaching-cases.js';
import type { PrintPackage } from '../../src/print/assemble-package.js';
import { isClean } from '../../src/print/check-solid.js';
import type { Gauge } from '../../src/print/gauges.js';
import { preparePrint } from '../../src/print/prepare-print.js';
import type { PrintInput } from '../../src/print/print-job.js';
import { printFiles } from '../../src/print/print-files.js';
import { caliper, jaws } from './caliper.js';
import { lumenWalls } from './lumen-walls.js';
import { admesh, has, inputOf } from './make.js';

// Every demonstration and teaching case with surfaces, in four processes: solid, hollow, cut and twice its size. Every diameter, span and tag
// is measured a second time, every body is read by a mesh checker of its own (admesh), and an outside slicer slices what model.3mf
// holds. Takes half an hour: with PAVM_LONG=1; else one small case runs, without slicer.
const IS_LONG = process.env.PAVM_LONG === '1';
const SLICER = 'prusa-slicer';

const WAYS: Record<string, (plan: { vessels: string[] }) => Partial<PrintInput['print']>> = {
  'solid, extruded': () => ({ process: 'material-extrusion' }),
  'hollow, vat': () => ({ process: 'vat-photopolymerisation', hollow: true, wallMm: 1.2 }),
  'cut, jetted': ({ vessels }) => ({ process: 'material-jetting', cut: { by: 'neck', vessel: vessels[0] } }),
  'twice the size, powder': () => ({ process: 'powder-bed', scale: 2 }),
};

const cases = [...demoCases(), ...teachingCases()].filter((c) => c.form === 'parts');
const rows = cases
  .flatMap((c) => Object.keys(WAYS).map((way) => ({ name: `${c.folder}, ${way}`, c, way })))
  .filter(({ name }) => IS_LONG || name === 'egret, hollow, vat');

const folder = mkdtempSync(join(tmpdir(), 'every-case-'));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

function remeasured(pack: PrintPackage, gauge: Gauge): number {
  const model = pack.parts.find((p) => p.role === 'model')!.mesh;
  if (gauge.kind === 'diameter')
    return caliper(
      model,
      gauge.point,
      gauge.along!,
      Math.max(0.8, 0.5 + 1.6 / gauge.expectedMm) * gauge.expectedMm,
    );
  // Tips on the rims of far ends; the plate of a tag from corner to corner.
  return gauge.kind === 'span'
    ? jaws(model, gauge.point, gauge.to!, 0.3)
    : jaws(model, gauge.point, gauge.to!, 30, 0.02);
}

/** What a slicer says where a print fails or loses something. */
const COMPLAINT =
  /repair|open edge|degenerate|self-intersect|error|fail|invalid|could not|empty layer|outside/i;

function sliced(pack: PrintPackage): string {
  const file = join(folder, 'model.3mf');
  const gcode = join(folder, 'model.gcode');
  writeFileSync(file, printFiles(pack).find((f) => f.path === 'model.3mf')!.bytes);
  const large = ['--bed-shape', '0x0,2000x0,2000x2000,0x2000', '--max-print-height', '1000'];
  const args = ['--datadir', join(folder, 'settings'), ...large, '--dont-arrange', '--export-gcode'];
  const ran = spawnSync(SLICER, [...args, '-o', gcode, file], { encoding: 'utf8', timeout: 300_000 });
  if (ran.error) throw ran.error;
  const said = `${ran.stdout}${ran.stderr}`.split('\n').filter((line) => COMPLAINT.test(line));
  if (ran.status !== 0) return `exit ${ran.status}: ${said.join('; ')}`;
  const extrusions = readFileSync(gcode, 'utf8').match(/^G1 .*E\d*\.?\d+/gm)?.length ?? 0;
  rmSync(gcode);
  return extrusions > 100 ? said.join('; ') : `only ${extrusions} extrusions`;
}

describe('the print of every case', () => {
  it.each(rows)(
    '$name: diameters, spans and tags measured again within 0.02 mm, bodies clean, walls kept, sliced',
    async ({ name, c, way }) => {
      const plain = inputOf(c.lesion, {}, c.resolution);
      const necked = plain.lesion.vessels.filter((v) => v.neck);
      const input = {
        ...plain,
        print: { ...plain.print, ...WAYS[way]({ vessels: necked.map((v) => v.name) }) },
      };
      const pack = await preparePrint(input);
      const bad: string[] = [];
      let worstMm = 0;
      // A width of the sac depends on how flat jaws are turned: it is not measured again here.
      for (const g of pack.gauges.filter(({ kind }) => kind !== 'width')) {
        const offMm = Math.abs(remeasured(pack, g) - g.expectedMm);
        worstMm = Math.max(worstMm, offMm);
        if (!(offMm < 0.02)) bad.push(`${g.name} ${g.what}: ${offMm.toFixed(3)} mm off`);
      }
      for (const part of pack.parts) if (!isClean(part.check)) bad.push(`${part.name} is not clean`);
      if (has('admesh'))
        for (const file of printFiles(pack).filter((f) => f.path.endsWith('.stl'))) {
          const facts = admesh(file.bytes as Uint8Array);
          const faults = [
            'Total disconnected facets',
            'Degenerate facets',
            'Facets removed',
            'Facets reversed',
          ];
          for (const fault of faults) if (facts[fault]) bad.push(`${file.path}: ${fault} ${facts[fault]}`);
        }
      let thinMm2 = 0;
      if (input.print.hollow) {
        const walls = lumenWalls(pack.parts.find((p) => p.role === 'model')!.mesh, input, IS_LONG ? 8 : 60);
        expect(walls.length).toBeGreaterThan(50);
        // One triangle in eight was looked at; a wall of 0.5 mm² is a wall, less is the edge of a facet.
        const thin = walls.filter((w) => w.thicknessMm < 1.15);
        thinMm2 = (IS_LONG ? 8 : 60) * thin.reduce((sum, w) => sum + w.areaMm2, 0);
        if (thinMm2 > 0.5)
          bad.push(`${thinMm2.toFixed(2)} mm² of wall below 1.15 mm, ${thin[0].thicknessMm.toFixed(3)} mm`);
      }
      const said = IS_LONG && has(SLICER) ? sliced(pack) : '';
      const onPoint = pack.findings.filter((f) => f.id === 'print-foot-small').map((f) => f.where);
      // Where the plan says that a body stands on a point, and what to do, a slicer may say so too.
      if (said !== '' && onPoint.length === 0) bad.push(`slicer: ${said}`);
      if (IS_LONG)
        console.log(
          `${name}: ${pack.gauges.length} check points, worst ${worstMm.toFixed(4)} mm; thin wall ${thinMm2.toFixed(2)} mm²; on a point: ${onPoint.join(' ') || 'none'}; slicer: ${said || 'no complaint'}`,
        );
      expect(bad).toEqual([]);
    },
    900_000,
  );
});
