import { spawnSync } from 'node:child_process';
import { appendFileSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, describe, expect, it } from 'vitest';
import {
  add,
  cross,
  normalize,
  perpendicular,
  scale,
  subtract,
  type Vec3,
} from '../../src/foundation/vector.js';
import { measureWhole } from '../../src/geometry/measure-whole.js';
import type { TriangleMesh } from '../../src/mesh/mesh.js';
import { wholeMesh } from '../../src/phantoms/lesion.js';
import { type DemoCase, demoCases, WHOLE_CELL_MM } from '../../src/phantoms/demo-cases.js';
import { teachingCases } from '../../src/phantoms/teaching-cases.js';
import { teachingPatients } from '../../src/phantoms/teaching-patients.js';
import type { PrintPackage } from '../../src/print/assemble-package.js';
import { isClean } from '../../src/print/check-solid.js';
import type { Gauge } from '../../src/print/gauges/gauge.js';
import { preparePrint } from '../../src/print/prepare-print.js';
import { printFiles } from '../../src/print/print-files.js';
import type { PrintInput } from '../../src/print/print-job.js';
import { DEFINITIONS, NO_SCAN } from '../geometry/make.js';
import { IS_LONG } from '../long-tests.js';
import { caliper, jaws, meets, rocked } from './caliper.js';
import { lumenWalls } from './lumen-walls.js';
import { admesh, bareInput, has, inputOf } from './make.js';

// Every demonstration and teaching case with surfaces, including those of the teaching patients, in four processes: solid,
// hollow, cut, both, and larger. Every check point is measured a second time, every body is read by a separate mesh checker
// (admesh), and an outside slicer slices the contents of model.3mf. All rows take half an hour or more: with PAVM_LONG=1;
// PAVM_ROWS, a pattern, selects some, and PAVM_TABLE names a file that their results are appended to. Otherwise a small one
// runs. The last runs: every-case.md.
const TABLE = process.env.PAVM_TABLE;
const SLICER = 'prusa-slicer';

const WAYS: Record<string, (plan: { vessels: string[] }) => Partial<PrintInput['print']>> = {
  'solid, extruded': () => ({ process: 'material-extrusion' }),
  'hollow, vat': () => ({ process: 'vat-photopolymerisation', hollow: true, wallMm: 1.2 }),
  'hollow, 1.5 times the size, jetted': () => ({
    process: 'material-jetting',
    hollow: true,
    wallMm: 1.5,
    scale: 1.5,
  }),
  'cut, jetted': ({ vessels }) => ({ process: 'material-jetting', cut: { by: 'neck', vessel: vessels[0] } }),
  'hollow and cut, extruded': ({ vessels }) => ({
    process: 'material-extrusion',
    hollow: true,
    wallMm: 1.2,
    cut: { by: 'neck', vessel: vessels[0] },
  }),
  'twice the size, powder': () => ({ process: 'powder-bed', scale: 2 }),
};

const SAMPLE = ['robin, solid, extruded'];

const cases = [...demoCases(), ...teachingCases(), ...teachingPatients()];
const rows = cases
  .flatMap((c) => Object.keys(WAYS).map((way) => ({ name: `${c.folder}, ${way}`, c, way })))
  .filter(({ name }) =>
    IS_LONG ? new RegExp(process.env.PAVM_ROWS ?? '').test(name) : SAMPLE.includes(name),
  );

const folder = mkdtempSync(join(tmpdir(), 'every-case-'));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

/** A case as it is printed: its parts, or its one surface of the whole blood pool. */
function printable(c: DemoCase): PrintInput {
  if (c.form === 'parts') return inputOf(c.lesion, {}, c.resolution);
  const { mesh, ends, sac } = wholeMesh(c.lesion, WHOLE_CELL_MM);
  const surface = {
    mesh,
    capTriangles: [],
    ends: ends.map(({ at, ...end }) => ({ ...end, point: at, where: end.name })),
    sac: { point: sac, where: 'sac' },
    offeredEnds: [],
  };
  const { lesion } = measureWhole(surface, DEFINITIONS, NO_SCAN);
  return bareInput([{ name: 'whole', role: 'whole', mesh }], lesion);
}

/** How far the second measurement is from what a check point should read, mm. */
function offMm(pack: PrintPackage, gauge: Gauge): number {
  const model = pack.parts.find((p) => p.role === 'model')!.mesh;
  const { kind, point, to, along, expectedMm, what } = gauge;
  if (kind === 'diameter') return Math.abs(caliper(model, point, along!) - expectedMm);
  // Tips on the rims of far ends.
  if (kind === 'span') return Math.abs(jaws(model, point, to!, 0.3) - expectedMm);
  if (kind === 'tag')
    return Math.abs(
      plate(model, gauge, pack.gauges.find((g) => g.kind === 'tag' && g !== gauge)!) - expectedMm,
    );
  // Jaws lie flat, and no tilt reads smaller, or larger, than the reading asked for.
  const read = jaws(model, point, to!, 2, 0.02);
  const axis = what.includes('at right angles to its') ? lineOf(pack, what) : undefined;
  const tilted = rocked(model, point, to!, 2, axis);
  const past = what.includes('the largest reading') ? Math.max(...tilted) - read : read - Math.min(...tilted);
  return Math.max(Math.abs(read - expectedMm), past);
}

/** Direction of the width perpendicular to another one. */
function lineOf(pack: PrintPackage, what: string): Vec3 {
  const isLongest = what.includes('its longest width');
  const other = pack.gauges.find(
    (g) =>
      g.kind === 'width' &&
      g.what.includes(isLongest ? 'largest' : 'smallest') &&
      !g.what.includes('at right angles'),
  )!;
  return normalize(subtract(other.to!, other.point));
}

/** Width of the plate of a tag by lines through its middle plane, next to the stem; every triangle is tested. */
function plate({ positions, triangles }: TriangleMesh, gauge: Gauge, across: Gauge): number {
  const middle = scale(add(gauge.point, gauge.to!), 0.5);
  const along = normalize(subtract(gauge.to!, gauge.point));
  const vertex = (v: number): Vec3 => [positions[3 * v], positions[3 * v + 1], positions[3 * v + 2]];
  const breadths = [-0.3, 0.3].map((part) => {
    const from = add(middle, scale(subtract(across.to!, across.point), part));
    return [along, scale(along, -1)].reduce((sum, direction) => {
      let nearest = Number.POSITIVE_INFINITY;
      for (let t = 0; t < triangles.length; t += 3) {
        const hit = meets(
          from,
          direction,
          vertex(triangles[t]),
          vertex(triangles[t + 1]),
          vertex(triangles[t + 2]),
        );
        if (hit && hit.distance > 1e-3 && hit.distance < nearest) nearest = hit.distance;
      }
      return sum + nearest;
    }, 0);
  });
  return Math.min(...breadths);
}

/** Vessels whose open end is obstructed, by lines straight out of the lumen; every triangle is tested. */
function shutMouths({ positions, triangles }: TriangleMesh, { lesion, print }: PrintInput): string[] {
  const vertex = (v: number): Vec3 => [positions[3 * v], positions[3 * v + 1], positions[3 * v + 2]];
  return lesion.vessels.flatMap(({ name, centrelineMm: line, calibreMm }) => {
    const out = normalize(subtract(line[0], line[2]));
    const [u, v] = [perpendicular(out), cross(out, perpendicular(out))];
    const isShut = [0, 1, 2, 3, 4, 5, 6, 7, 8].some((i) => {
      const off = i === 0 ? 0 : 0.35 * print.scale * calibreMm.min;
      const [a, b] = [off * Math.cos((Math.PI * i) / 4), off * Math.sin((Math.PI * i) / 4)];
      const from = add(scale(line[2], print.scale), add(scale(u, a), scale(v, b)));
      for (let t = 0; t < triangles.length; t += 3) {
        const hit = meets(
          from,
          out,
          vertex(triangles[t]),
          vertex(triangles[t + 1]),
          vertex(triangles[t + 2]),
        );
        if (hit && hit.distance > 0 && hit.distance < MOUTH_MM) return true;
      }
      return false;
    });
    return isShut ? [name] : [];
  });
}

/** Clearance in front of an open end, mm. */
const MOUTH_MM = 10;

/** What a slicer reports when a print fails or loses something. */
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
    '$name: check points measured again within 0.02 mm, bodies clean, walls kept, sliced',
    async ({ c, way }) => {
      const plain = printable(c);
      const necked = plain.lesion.vessels.filter((v) => v.neck);
      const input = {
        ...plain,
        print: { ...plain.print, ...WAYS[way]({ vessels: necked.map((v) => v.name) }) },
      };
      const pack = await preparePrint(input);
      const bad: string[] = [];
      let worstMm = 0;
      for (const g of pack.gauges) {
        const off = offMm(pack, g);
        worstMm = Math.max(worstMm, off);
        if (!(off < 0.02)) bad.push(`${g.name} ${g.what}: ${off.toFixed(3)} mm off`);
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
        for (const name of shutMouths(pack.parts.find((p) => p.role === 'model')!.mesh, input))
          bad.push(`something stands before the open end of ${name}`);
        expect(walls.length).toBeGreaterThan(50);
        // One triangle in eight was examined; a wall of 0.5 mm² is a wall, less is the edge of a facet.
        const thin = walls.filter((w) => w.thicknessMm < 1.15);
        thinMm2 = (IS_LONG ? 8 : 60) * thin.reduce((sum, w) => sum + w.areaMm2, 0);
        if (thinMm2 > 0.5)
          bad.push(`${thinMm2.toFixed(2)} mm² of wall below 1.15 mm, ${thin[0].thicknessMm.toFixed(3)} mm`);
      }
      const said = has(SLICER) ? sliced(pack) : '';
      const onPoint = pack.findings.filter((f) => f.id === 'print-foot-small').map((f) => f.where);
      // Where the plan says that a body stands on a point, and what to do, a slicer may say so too.
      if (said !== '' && onPoint.length === 0) bad.push(`slicer: ${said}`);
      const facts = [
        pack.gauges.length,
        worstMm.toFixed(4),
        input.print.hollow ? thinMm2.toFixed(2) : '',
        onPoint.join(' '),
        said,
      ];
      if (TABLE) appendFileSync(TABLE, `| ${[c.folder, way, ...facts].join(' | ')} |\n`);
      expect(bad).toEqual([]);
    },
    900_000,
  );
});
