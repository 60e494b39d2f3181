import { readShelf } from '../../src/case/read-shelf.js';
import { measureCase } from '../../src/cli/measure/measure-case.js';
import type { TriangleMesh } from '../../src/mesh/mesh.js';
import type { PageInput } from '../../src/page/page-html.js';
import { ploverLesion } from '../../src/phantoms/demo-lesions.js';
import { partMeshes } from '../../src/phantoms/lesion.js';
import { assembleResult } from '../../src/plan/assemble-result.js';
import { lesionPieces } from '../../src/report/figures/lesion-pieces.js';
import { renderedViews, viewMarks, workingTargets } from '../../src/report/figures/rendered-views.js';
import type { Result } from '../../src/result/result.generated.js';
import { cylinder } from '../mesh/shapes.js';

/** A demo case, measured and planned. */
export async function demoCase(name: string): Promise<PageInput> {
  const measured = await measureCase(`cases/${name}`);
  const patientCase = measured.case;
  const shelf =
    patientCase.shelf && (await readShelf(patientCase.shelf.absolute, patientCase.shelf.relative));
  const findings = await measured.findings();
  const { result } = assembleResult({ ...measured, findings, shelf, version: '0.0.0' });
  const frame = patientCase.surfaces?.frame ?? 'unknown';
  const views = renderedViews({
    parts: lesionPieces(result, measured.structures),
    frame,
    side: patientCase.lesion.side,
    marks: viewMarks(result),
    working: workingTargets(result),
  });
  return { result, structures: measured.structures, frame, views };
}

/** The plover lesion again with about 200 000 triangles; the same axes and calibres. */
export function fineSurfaces(like: PageInput): PageInput {
  const fine = partMeshes(ploverLesion(), { around: 96, stepMm: 0.25, sacFrequency: 58 });
  const structures = like.structures.map((one) => {
    const mesh = fine.find((part) => part.name === one.name)?.mesh;
    return mesh ? { ...one, mesh } : one;
  });
  return { ...like, structures };
}

export const triangleCount = (structures: readonly { mesh: TriangleMesh }[]): number =>
  structures.reduce((sum, { mesh }) => sum + mesh.triangles.length / 3, 0);

/** A straight tube, 10 mm wide and 40 mm long, along the head-foot axis: everything about it is known. */
export function plainTube(): PageInput {
  const mesh = cylinder(64, 5, 40, 40);
  const low = mesh.positions.reduce((least, z, i) => (i % 3 === 2 ? Math.min(least, z) : least), Infinity);
  const at = (mm: number): [number, number, number] => [0, 0, low + 40 - mm];
  const result: Result = {
    format: 'pavm-result/1',
    case: 'tube',
    purpose: 'demo',
    tool: { name: 'pavm', version: '0.0.0', rule_set: '0' },
    today: { from: 'unknown' },
    inputs: [],
    lesion: { side: 'left', lobe: 'lower' },
    vessels: {
      T: {
        role: 'feeder',
        length_mm: 40,
        tortuosity: 1,
        calibre_mm: { min: 10, mean: 10, max: 10 },
        profile: Array.from({ length: 39 }, (_, i) => ({
          at_mm: i + 1,
          equivalent_mm: 10,
          min_mm: 10,
          max_mm: 10,
          area_mm2: 25 * Math.PI,
        })),
        neck: { at_mm: 40, point_mm: at(40) },
        branches: [],
        centreline_mm: Array.from({ length: 41 }, (_, i) => at(i)),
      },
    },
    closure: [],
    devices: {},
    readiness: {
      plan_a: { ready_today: false, missing: [] },
      plan_b: { ready_today: false, missing: [] },
      recommended: 'discuss',
      because: [],
    },
    checklist: [],
    findings: [],
    cautions: [],
  };
  return { result, structures: [{ name: 'T', role: 'feeder', mesh }], frame: 'LPS', views: [] };
}
