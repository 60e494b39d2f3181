// Time and memory to read a label map of 512 x 512 x 400 and lay the surface of its label: node tests/bench/label-map.mjs
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { labelSurface } from '../../dist/volume/label-surface.js';
import { readLabelMap } from '../../dist/volume/read-label-map.js';

const [COLUMNS, ROWS, SLICES] = [512, 512, 400];
const folder = mkdtempSync(join(tmpdir(), 'labels-'));
try {
  const file = join(folder, 'labels.nrrd');
  const header = `NRRD0004\ntype: uint8\ndimension: 3\nsizes: ${COLUMNS} ${ROWS} ${SLICES}\nencoding: raw\nspace: left-posterior-superior\nspace directions: (0.7,0,0) (0,0.7,0) (0,0,0.7)\nspace origin: (0,0,0)\n\n`;
  const voxels = Buffer.alloc(COLUMNS * ROWS * SLICES);
  // a vessel of 13 voxels that winds up through all slices
  for (let k = 0; k < SLICES; k++) {
    const [x, y] = [256 + 90 * Math.cos(k / 40), 256 + 90 * Math.sin(k / 40)];
    for (let j = Math.floor(y - 8); j <= y + 8; j++)
      for (let i = Math.floor(x - 8); i <= x + 8; i++)
        if ((i - x) ** 2 + (j - y) ** 2 < 42) voxels[(k * ROWS + j) * COLUMNS + i] = 1;
  }
  writeFileSync(file, Buffer.concat([Buffer.from(header), voxels]));
  const processor = () => {
    const { user, system } = process.cpuUsage();
    return (user + system) / 1e6;
  };
  const start = processor();
  const map = await readLabelMap(file, { shown: 'labels', unitMm: 1, wanted: () => [1] });
  const read = processor();
  const mesh = labelSurface(map.grid, map.labels.get(1), []);
  const laid = processor();
  process.stdout.write(
    `read ${(read - start).toFixed(2)} s, surface ${(laid - read).toFixed(2)} s of processor time, ${mesh.triangles.length / 3} triangles, memory ${Math.round(process.resourceUsage().maxRSS / 1024)} MB\n`,
  );
} finally {
  rmSync(folder, { recursive: true });
}
