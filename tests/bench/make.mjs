// Makes the input of the benchmark, in its own process: a child's peak memory starts from that of its parent.
//   node tests/bench/make.mjs tube|case|labels FOLDER [TRIANGLES]
// Writes into FOLDER and prints one line of JSON.
import { cpSync, mkdirSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { pairEdges } from '../../dist/mesh/edge-pairing.js';
import { writeStl } from '../../dist/mesh/write-stl.js';
import { ploverLesion } from '../../dist/phantoms/demo-lesions.js';
import { wholeMesh } from '../../dist/phantoms/lesion.js';
import { helicalTube, subdivided } from './meshes.mjs';

const CASE = fileURLToPath(new URL('../../cases/plover-whole', import.meta.url));
const [kind, folder, count] = process.argv.slice(2);
const making = { tube, case: caseFolder, labels };
process.stdout.write(`${JSON.stringify(making[kind](Number(count)))}\n`);

/** A tube and the planes of its sections. */
function tube(size) {
  const { mesh, sections, exactVolumeMm3 } = helicalTube(size);
  writeFileSync(join(folder, 'tube.stl'), writeStl(mesh, 'tube'));
  writeFileSync(join(folder, 'planes.json'), JSON.stringify(sections));
  return { triangles: mesh.triangles.length / 3, exactVolumeMm3 };
}

/** The fused demonstration lesion, refined to about `size` triangles, with its case. */
function caseFolder(size) {
  // cells of 0.8 mm give 25 000 triangles; finer ones come from subdivision, which is quicker to make
  let rounds = 0;
  while (size / 4 ** rounds > 80_000) rounds++;
  const cellMm = Math.min(1.19, 0.8 * Math.sqrt(25_000 / (size / 4 ** rounds)));
  let { mesh } = wholeMesh(ploverLesion(), cellMm);
  for (let i = 0; i < rounds; i++) mesh = subdivided(mesh, pairEdges(mesh).twin);
  mkdirSync(join(folder, 'case', 'meshes'), { recursive: true });
  for (const name of ['case.yaml', 'shelf.yaml']) cpSync(join(CASE, name), join(folder, 'case', name));
  writeFileSync(join(folder, 'case', 'meshes', 'lesion.stl'), writeStl(mesh, 'lesion'));
  return { triangles: mesh.triangles.length / 3 };
}

/** A label map of 512 x 512 x 400: a vessel 13 voxels wide that winds up through all slices. */
function labels() {
  const [columns, rows, slices] = [512, 512, 400];
  const header = `NRRD0004\ntype: uint8\ndimension: 3\nsizes: ${columns} ${rows} ${slices}\nencoding: raw\nspace: left-posterior-superior\nspace directions: (0.7,0,0) (0,0.7,0) (0,0,0.7)\nspace origin: (0,0,0)\n\n`;
  const voxels = Buffer.alloc(columns * rows * slices);
  for (let k = 0; k < slices; k++) {
    const [x, y] = [256 + 90 * Math.cos(k / 40), 256 + 90 * Math.sin(k / 40)];
    for (let j = Math.floor(y - 8); j <= y + 8; j++)
      for (let i = Math.floor(x - 8); i <= x + 8; i++)
        if ((i - x) ** 2 + (j - y) ** 2 < 42) voxels[(k * rows + j) * columns + i] = 1;
  }
  writeFileSync(join(folder, 'labels.nrrd'), Buffer.concat([Buffer.from(header), voxels]));
  return {};
}
