// Time and memory to read a CT series of 512 x 512 x 800: node tests/bench/ct-series.mjs [plain|rle|jpeg|jls|j2k]
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { openScan } from '../../dist/cli/scan/open-scan.js';
import { loadRules } from '../../dist/rules/load-rules.js';
import { volumeHash } from '../../dist/volume/ct/grey-volume.js';
import { writeSeries } from './ct-series-files.mjs';

const packing = process.argv[2] ?? 'plain';
const folder = mkdtempSync(join(tmpdir(), 'ct-bench-'));
try {
  await writeSeries(folder, { columns: 512, rows: 512, slices: 800, packing, write: writeFileSync });
  const start = performance.now();
  const scan = await openScan(folder, 'series', loadRules());
  const headers = performance.now();
  const volume = await scan.voxels();
  const voxels = performance.now();
  const hash = volumeHash(volume);
  const end = performance.now();
  const seconds = (ms) => (ms / 1000).toFixed(1);
  process.stdout.write(
    `${packing}: headers ${seconds(headers - start)} s, voxels ${seconds(voxels - headers)} s, hash ${seconds(end - voxels)} s, memory ${Math.round(process.resourceUsage().maxRSS / 1024)} MiB, ${hash.slice(0, 8)}\n`,
  );
} finally {
  rmSync(folder, { recursive: true });
}
