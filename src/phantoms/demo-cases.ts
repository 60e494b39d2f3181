import { rounded } from '../foundation/number-text.js';
import type { TriangleMesh } from '../mesh/mesh.js';
import { writeStl } from '../mesh/write-stl.js';
import { ctScene, type SceneOptions } from './ct-scene.js';
import { ctSlices, type SeriesWords } from './ct-slices.js';
import { heronLesion, ploverLesion, wrenLesion } from './demo-lesions.js';
import { type LesionPlan, type PartResolution, partMeshes, wholeMesh } from './lesion.js';

/** One demonstration case: its folder, its lesion, and the form of its surfaces. */
export interface DemoCase {
  folder: string;
  lesion: LesionPlan;
  form: 'parts' | 'whole' | 'scan';
  /** Resolution of the part meshes, if not the usual one. */
  resolution?: PartResolution;
  /** The scan around the lesion, for a case with a scan as input. */
  scene?: SceneOptions & SeriesWords;
}

/** Cell of the fused demonstration surface, mm: its smallest vessel then has about twelve corners around. */
export const WHOLE_CELL_MM = 0.8;

/** The demonstration cases of the folder `cases`, in order of their names. */
export function demoCases(): DemoCase[] {
  return [
    { folder: 'heron', lesion: heronLesion(), form: 'parts' },
    { folder: 'plover', lesion: ploverLesion(), form: 'parts' },
    { folder: 'plover-whole', lesion: ploverLesion(), form: 'whole' },
    { folder: 'wren', lesion: wrenLesion(), form: 'parts' },
  ];
}

/** Coordinates rounded to 0.1 micrometre, so that platform differences in the last bits never reach a file. */
function settled(mesh: TriangleMesh): TriangleMesh {
  return { positions: mesh.positions.map((x) => rounded(x, 4)), triangles: mesh.triangles };
}

/**
 * The files of a demonstration case made from its lesion: name within its folder, and bytes of a binary STL in mm, DICOM axes, or of a CT
 * slice.
 */
export function demoFiles({
  lesion,
  form,
  resolution,
  scene,
}: DemoCase): { path: string; bytes: Uint8Array }[] {
  if (form === 'scan') {
    if (!scene) throw new RangeError(`${lesion.name}: a scan needs a scene`);
    return ctSlices(ctScene(lesion, scene), scene);
  }
  if (form === 'whole') {
    const { mesh } = wholeMesh(lesion, WHOLE_CELL_MM);
    return [{ path: 'meshes/lesion.stl', bytes: writeStl(settled(mesh), 'lesion') }];
  }
  return partMeshes(lesion, resolution).map(({ name, mesh }) => ({
    path: `meshes/${name}.stl`,
    bytes: writeStl(settled(mesh), name),
  }));
}
