// Time and memory against the number of triangles, on the built code in dist/.
//   node tests/bench/bench.mjs [--sizes 10000,100000,1000000,4000000] [--repeat 3] [--against three|vtk|none] [--series plain,rle,jpeg,jls,j2k]
// Each row is a process of its own; the least of the repeats counts, since other work on the machine only adds.
import { execFileSync, spawnSync } from 'node:child_process';
import { cpSync, existsSync, mkdirSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { dirname, join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { parseArgs } from 'node:util';
import { helicalTube, subdivided } from './meshes.mjs';

const here = dirname(fileURLToPath(import.meta.url));
const root = join(here, '..', '..');
const { values: options } = parseArgs({
  options: {
    sizes: { type: 'string', default: '10000,100000,1000000,4000000' },
    repeat: { type: 'string', default: '3' },
    against: { type: 'string', default: 'three' },
    series: { type: 'string', default: 'plain,rle,jpeg,jls,j2k' },
  },
});
const SHARED = ['read and weld', 'components and edges', 'volume and area', '200 sections'];

if (!existsSync(join(root, 'dist', 'cli', 'main.js'))) {
  process.stderr.write('bench: dist/ is missing. Run: npm run build\n');
  process.exit(2);
}
const folder = mkdtempSync(join(tmpdir(), 'bench-'));
try {
  await bench(options.sizes.split(',').filter(Boolean).map(Number), Number(options.repeat));
  seriesOfFullSize(options.series.split(',').filter(Boolean));
} finally {
  rmSync(folder, { recursive: true, force: true });
}

async function bench(sizes, repeat) {
  const { writeStl } = await import('../../dist/mesh/write-stl.js');
  const other = otherLibrary(options.against);
  const table = [];
  for (const size of sizes) {
    const { mesh, sections, exactVolumeMm3 } = helicalTube(size);
    const file = join(folder, 'tube.stl');
    writeFileSync(file, writeStl(mesh, 'tube'));
    const planes = join(folder, 'planes.json');
    writeFileSync(planes, JSON.stringify(sections));
    const triangles = mesh.triangles.length / 3;
    const own = least(repeat, () => child([process.execPath, join(here, 'same-work.mjs'), file, planes]));
    check('own', own, exactVolumeMm3);
    const row = { triangles, own };
    if (other) {
      try {
        row.other = least(repeat, () => child([...other.command, file, planes]));
        check(other.name, row.other, exactVolumeMm3);
      } catch (error) {
        // it may run out of memory where we do not
        process.stdout.write(
          `${other.name} did not finish with ${triangles} triangles: ${error.message.trim()}\n`,
        );
      }
    }
    const dir = await planFolder(size, writeStl);
    row.planTriangles = dir.triangles;
    row.plan = least(repeat, () => child([process.execPath, join(here, 'whole-plan.mjs'), dir.path]));
    table.push(row);
    print(row, other);
  }
  summary(table, other);
}

/** A CT series of 512 x 512 x 800 in each packing, read once each. */
function seriesOfFullSize(packings) {
  if (packings.length > 0) process.stdout.write('\nCT series of 512 x 512 x 800\n');
  for (const packing of packings)
    process.stdout.write(
      execFileSync(process.execPath, [join(here, 'ct-series.mjs'), packing], { encoding: 'utf8' }),
    );
}

/** The fused demonstration lesion, refined to about `size` triangles, with its case. */
async function planFolder(size, writeStl) {
  const { wholeMesh } = await import('../../dist/phantoms/lesion.js');
  const { ploverLesion } = await import('../../dist/phantoms/demo-lesions.js');
  const { pairEdges } = await import('../../dist/mesh/edge-pairing.js');
  // cells of 0.8 mm give 25 000 triangles; finer ones come from subdivision, which is quicker to make
  let rounds = 0;
  while (size / 4 ** rounds > 80_000) rounds++;
  const cellMm = Math.min(1.19, 0.8 * Math.sqrt(25_000 / (size / 4 ** rounds)));
  let { mesh } = wholeMesh(ploverLesion(), cellMm);
  for (let i = 0; i < rounds; i++) mesh = subdivided(mesh, pairEdges(mesh).twin);
  const path = join(folder, 'case');
  mkdirSync(join(path, 'meshes'), { recursive: true });
  for (const name of ['case.yaml', 'shelf.yaml'])
    cpSync(join(root, 'cases', 'plover-whole', name), join(path, name));
  writeFileSync(join(path, 'meshes', 'lesion.stl'), writeStl(mesh, 'lesion'));
  return { path, triangles: mesh.triangles.length / 3 };
}

function otherLibrary(name) {
  if (name === 'none') return undefined;
  if (name === 'three')
    return { name: 'three.js', command: [process.execPath, join(here, 'three-same-work.mjs')] };
  if (name !== 'vtk') throw new Error(`--against ${name}: three, vtk or none`);
  const python = '/usr/bin/python3';
  try {
    execFileSync(python, ['-c', 'import vtkmodules.vtkIOGeometry'], { stdio: 'ignore' });
  } catch {
    process.stdout.write('VTK is not installed here (Debian: python3-vtk9); only the own times are shown.\n');
    return undefined;
  }
  return { name: 'VTK', command: [python, join(here, 'vtk_same_work.py')] };
}

function child([program, ...args]) {
  const done = spawnSync(program, args, { encoding: 'utf8', maxBuffer: 1 << 24 });
  const line = done.stdout?.trim().split('\n').at(-1) ?? '';
  try {
    return JSON.parse(line);
  } catch {
    throw new Error(`${args[0]} failed: ${done.stderr?.slice(-600)}`);
  }
}

/** The least of each number over some runs. */
function least(times, run) {
  let best = run();
  for (let i = 1; i < times; i++) {
    const next = run();
    best = Object.fromEntries(
      Object.entries(best).map(([key, x]) => [
        key,
        key.endsWith(' s') || key.endsWith('MB') ? Math.min(x, next[key]) : x,
      ]),
    );
  }
  return best;
}

/** A quick wrong answer is worth nothing. */
function check(name, result, exactVolumeMm3) {
  if (Math.abs(result.volumeMm3 / exactVolumeMm3 - 1) > 0.05)
    throw new Error(`${name}: volume ${result.volumeMm3}`);
  if (result.sections !== 200) throw new Error(`${name}: ${result.sections} of 200 sections`);
}

function shared(r) {
  return SHARED.reduce((sum, key) => sum + r[`${key} s`], 0);
}

function print({ triangles, own, other, plan, planTriangles }, library) {
  const out = [`${triangles} triangles`];
  for (const key of SHARED) {
    const theirs = other ? `   ${library.name} ${other[`${key} s`].toFixed(3)} s` : '';
    out.push(`  ${key.padEnd(22)} ${own[`${key} s`].toFixed(3)} s${theirs}`);
  }
  const theirs = other
    ? `   ${library.name} ${shared(other).toFixed(3)} s, ${other['peak MB'].toFixed(0)} MB; own/other ${(shared(own) / shared(other)).toFixed(2)}`
    : '';
  out.push(
    `  ${'together'.padEnd(22)} ${shared(own).toFixed(3)} s, ${own['peak MB'].toFixed(0)} MB${theirs}`,
  );
  out.push(
    `  ${'whole plan'.padEnd(22)} ${plan['wall s'].toFixed(2)} s (processor ${plan['processor s'].toFixed(2)} s), ${plan['peak MB'].toFixed(0)} MB, ${planTriangles} triangles`,
  );
  process.stdout.write(`${out.join('\n')}\n`);
}

function summary(table, library) {
  process.stdout.write('\nmicroseconds a triangle\n');
  for (const { triangles, own, other, plan, planTriangles } of table) {
    const per = (seconds, n) => ((1e6 * seconds) / n).toFixed(2).padStart(8);
    const theirs = other ? `   ${library.name} ${per(shared(other), triangles)}` : '';
    process.stdout.write(
      `${String(triangles).padStart(9)}   shared work ${per(shared(own), triangles)}${theirs}   whole plan ${per(plan['wall s'], planTriangles)}\n`,
    );
  }
}
