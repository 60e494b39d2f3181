// Time and memory to read a label map and build the surface of its label: node tests/bench/label-map.mjs FILE
import { labelSurface } from '../../dist/volume/label-surface.js';
import { readLabelMap } from '../../dist/volume/read-label-map.js';

const processor = () => {
  const { user, system } = process.cpuUsage();
  return (user + system) / 1e6;
};
const start = processor();
const map = await readLabelMap(process.argv[2], { shown: 'labels', unitMm: 1, wanted: () => [1] });
const read = processor();
const mesh = labelSurface(map.grid, map.labels.get(1), []);
const laid = processor();
process.stdout.write(
  `read ${(read - start).toFixed(2)} s, surface ${(laid - read).toFixed(2)} s of processor time, ${mesh.triangles.length / 3} triangles, memory ${Math.round(process.resourceUsage().maxRSS / 1024)} MB\n`,
);
