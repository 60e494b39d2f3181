// Time and memory against the number of triangles, on the built code in dist/.
//   node tests/bench/bench.mjs [--sizes 10000,100000,1000000,4000000] [--repeat 3] [--against three|vtk|none] [--series plain,rle,jpeg,jls,j2k] [--write]
// Each row runs in its own process, the two programs in turn; the lowest of the repeats counts, since other work on the machine
// only adds. --write puts the tables into tests/bench/RESULTS.md.
import { execFileSync, spawnSync } from 'node:child_process';
import { existsSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { cpus, loadavg, tmpdir } from 'node:os';
import { dirname, join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { parseArgs } from 'node:util';

const here = dirname(fileURLToPath(import.meta.url));
const root = join(here, '..', '..');
const { values: options } = parseArgs({
  options: {
    sizes: { type: 'string', default: '10000,100000,1000000,4000000' },
    repeat: { type: 'string', default: '3' },
    against: { type: 'string', default: 'three' },
    series: { type: 'string', default: 'plain,rle,jpeg,jls,j2k' },
    write: { type: 'boolean', default: false },
  },
});
const SHARED = ['read and weld', 'components and edges', 'volume and area', '200 sections'];

if (!existsSync(join(root, 'dist', 'cli', 'main.js'))) {
  process.stderr.write('bench: dist/ is missing. Run: npm run build\n');
  process.exit(2);
}
const folder = mkdtempSync(join(tmpdir(), 'bench-'));
try {
  const tables = bench(options.sizes.split(',').filter(Boolean).map(Number), Number(options.repeat));
  const labels = labelMapOfFullSize();
  const series = seriesOfFullSize(options.series.split(',').filter(Boolean));
  if (options.write) writeFileSync(join(here, 'RESULTS.md'), results(tables, [...labels, ...series]));
} finally {
  rmSync(folder, { recursive: true, force: true });
}

function bench(sizes, repeat) {
  const other = otherLibrary(options.against);
  const table = [];
  const [file, planes] = ['tube.stl', 'planes.json'].map((name) => join(folder, name));
  for (const size of sizes) {
    const { triangles, exactVolumeMm3 } = made('tube', size);
    const row = { triangles };
    let theirs = other;
    for (let i = 0; i < repeat; i++) {
      row.own = lesser(row.own, child([process.execPath, join(here, 'same-work.mjs'), file, planes]));
      if (!theirs) continue;
      try {
        row.other = lesser(row.other, child([...theirs.command, file, planes]));
      } catch (error) {
        // it may run out of memory where ours does not
        process.stdout.write(
          `${theirs.name} did not finish with ${triangles} triangles: ${error.message.trim()}\n`,
        );
        theirs = undefined;
      }
    }
    check('own', row.own, exactVolumeMm3);
    if (row.other) check(other.name, row.other, exactVolumeMm3);
    row.planTriangles = made('case', size).triangles;
    for (let i = 0; i < repeat; i++)
      row.plan = lesser(
        row.plan,
        child([process.execPath, join(here, 'whole-plan.mjs'), join(folder, 'case')]),
      );
    table.push(row);
    print(row, other);
  }
  summary(table, other);
  return { table, library: other?.name };
}

/** A CT series of 512 x 512 x 800 in each packing, read once each. */
function seriesOfFullSize(packings) {
  return packings.map((packing) => said('ct-series.mjs', packing, 'CT series of 512 x 512 x 800, '));
}

/** A label map of 512 x 512 x 400, read and turned into a surface. */
function labelMapOfFullSize() {
  made('labels');
  return [said('label-map.mjs', join(folder, 'labels.nrrd'), 'Label map of 512 x 512 x 400: ')];
}

/** What `make.mjs` wrote to the folder. */
function made(kind, size = 0) {
  return child([process.execPath, join(here, 'make.mjs'), kind, folder, String(size)]);
}

function said(script, argument, before) {
  const line = execFileSync(process.execPath, [join(here, script), argument], { encoding: 'utf8' }).trim();
  process.stdout.write(`${before}${line}\n`);
  return `${before}${line}`;
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

/** The lower of each number in two runs; the stages are those of the faster run. */
function lesser(best, next) {
  if (best === undefined) return next;
  const less = Object.entries(best).map(([key, x]) => [
    key,
    key.endsWith(' s') || key.endsWith('MB') ? Math.min(x, next[key]) : x,
  ]);
  const { stages } = best['processor s'] <= next['processor s'] ? best : next;
  return { ...Object.fromEntries(less), ...(stages && { stages }) };
}

/** A fast wrong answer is worth nothing. */
function check(name, result, exactVolumeMm3) {
  if (Math.abs(result.volumeMm3 / exactVolumeMm3 - 1) > 0.05)
    throw new Error(`${name}: volume ${result.volumeMm3}`);
  if (result.sections !== 200) throw new Error(`${name}: ${result.sections} of 200 sections`);
}

function shared(r, what = '') {
  return SHARED.reduce((sum, key) => sum + r[`${key}${what} s`], 0);
}

/** The tables of RESULTS.md, CPU time throughout: wall-clock time depends on what else the machine was doing. */
function results({ table, library }, lines) {
  const [cpu] = cpus();
  const seconds = (x) => (x === undefined ? '' : x.toFixed(3));
  const grows = (a, b, from, to) =>
    a > 0.02 && b > 0 ? (Math.log(b / a) / Math.log(to / from)).toFixed(2) : '';
  const sizes = table.map(({ triangles }) => triangles);
  const head = (first, columns) =>
    `| ${[first, ...columns].join(' | ')} |\n|${' --- |'.repeat(columns.length + 1)}`;
  const row = (cells) => `| ${cells.join(' | ')} |`;
  const SHARED_AND_SUM = [...SHARED, 'together'];
  const of = (r, key) => r && (key === 'together' ? shared(r, ', processor') : r[`${key}, processor s`]);
  const work = [
    head(
      'Shared work, s of processor time',
      sizes.flatMap((n) => [`${n} own`, `${library ?? 'other'}`, 'ratio']),
    ),
    ...SHARED_AND_SUM.map((key) =>
      row([
        key,
        ...table.flatMap(({ own, other }) => [
          seconds(of(own, key)),
          seconds(of(other, key)),
          other ? (of(own, key) / of(other, key)).toFixed(2) : '',
        ]),
      ]),
    ),
    row([
      'peak memory, MB',
      ...table.flatMap(({ own, other }) => [
        own['peak MB'].toFixed(0),
        other?.['peak MB'].toFixed(0) ?? '',
        '',
      ]),
    ]),
  ];
  const names = [...new Set(table.flatMap(({ plan }) => Object.keys(plan.stages)))];
  const plans = [
    head('Whole plan, s of processor time', [
      ...table.map(({ planTriangles }) => `${planTriangles}`),
      ...table
        .slice(1)
        .map(({ planTriangles }, i) => `exponent ${table[i].planTriangles} to ${planTriangles}`),
    ]),
    ...names.map((name) => {
      const at = table.map(({ plan }) => plan.stages[name]?.processor ?? 0);
      return row([
        name,
        ...at.map((x) => x.toFixed(2)),
        ...at.slice(1).map((x, i) => grows(at[i], x, table[i].planTriangles, table[i + 1].planTriangles)),
      ]);
    }),
    row([
      'together',
      ...table.map(({ plan }) => plan['processor s'].toFixed(2)),
      ...table
        .slice(1)
        .map(({ plan, planTriangles }, i) =>
          grows(table[i].plan['processor s'], plan['processor s'], table[i].planTriangles, planTriangles),
        ),
    ]),
    row([
      'peak memory, MB',
      ...table.map(({ plan }) => plan['peak MB'].toFixed(0)),
      ...table.slice(1).map(() => ''),
    ]),
  ];
  return `# Times and memory

Written by \`npm run bench -- ${process.argv.slice(2).join(' ')}\` on ${new Date().toISOString().slice(0, 10)}: ${cpus().length} cores of ${cpu.model.trim()}, Node ${process.version}; load ${loadavg()[0].toFixed(1)} at the end. Processor time of all threads, the least of ${options.repeat} runs; on a machine that does other work at the same time it can be up to twice as long, while the ratios change much less. Memory is the peak of the process. "read and weld" ends with joined vertices; our own does not yet report duplicate triangles, which "components and edges" finds. A plan also draws, prints and writes, which takes about the same time at every size.

${work.join('\n')}

${plans.join('\n')}

${lines.map((line) => `- ${line}`).join('\n')}
`;
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
