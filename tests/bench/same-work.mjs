// The shared work on one STL file with the built code: same-work.mjs FILE PLANES
import { readFileSync } from 'node:fs';
import { sectionAt } from '../../dist/geometry/section.js';
import { Surface } from '../../dist/geometry/surface.js';
import { measure } from '../../dist/mesh/measures.js';
import { readMeshFile } from '../../dist/mesh/read/read-mesh-file.js';
import { buildTopology } from '../../dist/mesh/topology.js';
import { withoutCopies } from '../../dist/mesh/weld.js';

const [file, planes] = process.argv.slice(2);
const sections = JSON.parse(readFileSync(planes, 'utf8'));
const result = {};
const clock = () => {
  const { user, system } = process.cpuUsage();
  return { wall: performance.now() / 1000, processor: (user + system) / 1e6 };
};
let last = clock();
const lap = (name) => {
  const now = clock();
  result[`${name} s`] = now.wall - last.wall;
  result[`${name}, processor s`] = now.processor - last.processor;
  last = now;
};
const read = await readMeshFile(file);
lap('read and weld');
const { mesh, pairing } = withoutCopies(read.objects[0].mesh);
const topology = buildTopology(mesh, pairing);
if (!topology.isWatertight || topology.componentSizes.length !== 1) throw new Error('the tube is not closed');
lap('components and edges');
const { volumeMm3, areaMm2 } = measure(mesh);
lap('volume and area');
const surface = new Surface(mesh, [0, 0, 0], [], topology.twin);
let cut = 0;
let areaSum = 0;
for (const { point, normal } of sections) {
  const section = sectionAt(surface, point, normal);
  if (!section) continue;
  cut++;
  areaSum += section.areaMm2;
}
lap('200 sections');
const peakMb = process.resourceUsage().maxRSS / 1024;
process.stdout.write(
  `${JSON.stringify({ ...result, volumeMm3, areaMm2, sections: cut, meanSectionMm2: areaSum / cut, 'peak MB': peakMb })}\n`,
);
