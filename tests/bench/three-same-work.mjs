// The shared work on one STL file with three.js and three-mesh-bvh: three-same-work.mjs FILE PLANES
import { readFileSync } from 'node:fs';
import { Line3, Plane, Vector3 } from 'three';
import { STLLoader } from 'three/examples/jsm/loaders/STLLoader.js';
import { mergeVertices } from 'three/examples/jsm/utils/BufferGeometryUtils.js';
import { MeshBVH } from 'three-mesh-bvh';

const [file, planes] = process.argv.slice(2);
const wanted = JSON.parse(readFileSync(planes, 'utf8'));
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
const bytes = readFileSync(file);
const soup = new STLLoader().parse(bytes.buffer.slice(bytes.byteOffset, bytes.byteOffset + bytes.byteLength));
soup.deleteAttribute('normal');
const geometry = mergeVertices(soup, 1e-6);
lap('read and weld');

// the library has no such check: edges with a map, parts by joining, as one would write it by hand
const index = geometry.index.array;
const position = geometry.getAttribute('position');
const parent = Uint32Array.from({ length: position.count }, (_, i) => i);
const find = (of) => {
  let v = of;
  while (parent[v] !== v) {
    parent[v] = parent[parent[v]];
    v = parent[v];
  }
  return v;
};
const maps = Array.from({ length: 16 }, () => new Map());
let unpaired = 0;
for (let i = 0; i < index.length; i++) {
  const [a, b] = [index[i], index[i % 3 === 2 ? i - 2 : i + 1]];
  parent[find(a)] = find(b);
  const [low, high] = a < b ? [a, b] : [b, a];
  const map = maps[low & 15];
  const key = low * position.count + high;
  const seen = map.get(key);
  if (seen === undefined) {
    map.set(key, 1);
    unpaired++;
  } else {
    map.set(key, seen + 1);
    unpaired += seen === 1 ? -1 : 1;
  }
}
let parts = 0;
for (let v = 0; v < position.count; v++) if (parent[v] === v) parts++;
if (unpaired !== 0 || parts !== 1) throw new Error(`${unpaired} edges unpaired, ${parts} parts`);
lap('components and edges');

let six = 0;
let twice = 0;
const [a, b, c] = [new Vector3(), new Vector3(), new Vector3()];
for (let i = 0; i < index.length; i += 3) {
  a.fromBufferAttribute(position, index[i]);
  b.fromBufferAttribute(position, index[i + 1]);
  c.fromBufferAttribute(position, index[i + 2]);
  b.sub(a);
  c.sub(a);
  b.cross(c);
  six += a.dot(b);
  twice += b.length();
}
lap('volume and area');

const bvh = new MeshBVH(geometry);
let cut = 0;
let segments = 0;
for (const { point, normal } of wanted) {
  const plane = new Plane().setFromNormalAndCoplanarPoint(new Vector3(...normal), new Vector3(...point));
  const line = new Line3();
  const at = new Vector3();
  const before = segments;
  bvh.shapecast({
    intersectsBounds: (box) => plane.intersectsBox(box),
    intersectsTriangle: (triangle) => {
      let hits = 0;
      for (const [from, to] of [
        [triangle.a, triangle.b],
        [triangle.b, triangle.c],
        [triangle.c, triangle.a],
      ]) {
        line.set(from, to);
        if (plane.intersectLine(line, at)) hits++;
      }
      if (hits >= 2) segments++;
      return false;
    },
  });
  if (segments > before) cut++;
}
lap('200 sections');
const peakMb = process.resourceUsage().maxRSS / 1024;
process.stdout.write(
  `${JSON.stringify({ ...result, volumeMm3: six / 6, areaMm2: twice / 2, sections: cut, 'peak MB': peakMb })}\n`,
);
