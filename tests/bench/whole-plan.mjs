// One whole plan of a case folder in this process: whole-plan.mjs DIR
import { join } from 'node:path';

const dir = process.argv[2];
const start = performance.now();
const { main } = await import('../../dist/cli/main.js');
await main(['node', 'pavm', 'plan', dir, '--out', join(dir, 'plan'), '--quiet']);
if (process.exitCode > 1) throw new Error(`exit code ${process.exitCode}`);
process.exitCode = 0;
const wall = (performance.now() - start) / 1000;
const { user, system } = process.cpuUsage();
const peakMb = process.resourceUsage().maxRSS / 1024;
process.stdout.write(
  `${JSON.stringify({ 'wall s': wall, 'processor s': (user + system) / 1e6, 'peak MB': peakMb })}\n`,
);
