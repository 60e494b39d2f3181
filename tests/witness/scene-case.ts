import { mkdirSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import type { Vec3 } from '../../src/foundation/vector.js';
import { writeStl } from '../../src/mesh/write-stl.js';
import { type LesionPlan, partMeshes } from '../../src/phantoms/lesion.js';
import { randomLesion } from '../../src/phantoms/random-lesion.js';
import type { GreyVolume } from '../../src/volume/ct/grey-volume.js';
import { ctFiles } from '../volume/ct/ct-bytes.js';

/** A grown lesion moved to a position in the patient, LPS. */
export function lesionAt(seed: number, place: Vec3): LesionPlan {
  const drawn = randomLesion(seed);
  const move = (p: Vec3): Vec3 => p.map((x, k) => x + place[k]) as Vec3;
  return {
    ...drawn,
    sac: { ...drawn.sac, centreMm: move(drawn.sac.centreMm) },
    vessels: drawn.vessels.map((v) => ({ ...v, axisMm: v.axisMm.map(move) })),
    neighbours: [],
  };
}

/** A case folder: the lesion's exact surfaces, and an axial volume as a series of DICOM slices. */
export function writeSceneCase(
  folder: string,
  id: string,
  lesion: LesionPlan,
  { stack, values }: GreyVolume,
  more: { patientName?: string } = {},
): void {
  mkdirSync(join(folder, 'ct'), { recursive: true });
  const { columns, rows, slices, origins } = stack;
  const spacing: Vec3 = [stack.columnStep[0], stack.rowStep[1], origins[5] - origins[2]];
  const files = ctFiles({
    columns,
    rows,
    slices,
    spacing,
    thickness: spacing[2],
    origin: [origins[0], origins[1], origins[2]],
    along: [1, 0, 0],
    down: [0, 1, 0],
    step: [0, 0, spacing[2]],
    isSigned: true,
    bitsStored: 16,
    intercept: 0,
    value: (i, j, k) => values[(k * rows + j) * columns + i],
    ...more,
  });
  files.forEach((bytes, k) => {
    writeFileSync(join(folder, 'ct', `${k}.dcm`), bytes);
  });
  const parts = partMeshes(lesion).map(({ name, role, mesh, of }) => {
    writeFileSync(join(folder, `${name}.stl`), writeStl(mesh));
    return `    - { name: ${name}, role: ${role}, mesh: ${name}.stl${of === undefined ? '' : `, of: ${of}`} }`;
  });
  writeFileSync(
    join(folder, 'case.yaml'),
    `format: pavm-case/1\nid: ${id}\npurpose: demo\nscan: { series: ct }\nlesion: { side: left, lobe: lower }\nsurfaces:\n  unit: mm\n  frame: LPS\n  parts:\n${parts.join('\n')}\n`,
  );
}
