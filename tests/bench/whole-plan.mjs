// One whole plan of a case folder in this process: whole-plan.mjs DIR
import { join } from 'node:path';

const dir = process.argv[2];
const start = performance.now();
const { main } = await import('../../dist/cli/main.js');
const { Timings } = await import('../../dist/cli/plan/timings.js');
const timings = new Timings();
await main(['node', 'pavm', 'plan', dir, '--out', join(dir, 'plan'), '--quiet']);
if (process.exitCode > 1) throw new Error(`exit code ${process.exitCode}`);
process.exitCode = 0;
const wall = (performance.now() - start) / 1000;
const { user, system } = process.cpuUsage();
const peakMb = process.resourceUsage().maxRSS / 1024;
const stages = Object.fromEntries(
  timings
    .end()
    .trim()
    .split('\n')
    .slice(1, -1)
    .map((line) => {
      const [stage, , processor, peak] = line.trim().split(/\s+/);
      return [stage, { processor: Number(processor), peak: Number(peak) }];
    }),
);
process.stdout.write(
  `${JSON.stringify({ stages, 'wall s': wall, 'processor s': (user + system) / 1e6, 'peak MB': peakMb })}\n`,
);
