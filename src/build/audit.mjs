// Asks the registry for known vulnerabilities of the packages that are installed with the program. Fails for a high or critical one. If no
// registry answers, nothing is known; this is reported and is not a failure.
import { spawnSync } from 'node:child_process';

const { stdout } = spawnSync('npm', ['audit', '--omit=dev', '--json'], {
  encoding: 'utf8',
  timeout: 120_000,
});
const report = parsed(stdout);
if (report?.auditReportVersion === undefined) {
  process.stdout.write('npm audit: the registry did not answer; nothing was audited\n');
} else {
  const found = Object.values(report.vulnerabilities);
  const grave = found.filter(({ severity }) => severity === 'high' || severity === 'critical');
  for (const { name, severity, range } of found) process.stdout.write(`${severity}: ${name} ${range}\n`);
  process.stdout.write(`npm audit: ${found.length} known faults, ${grave.length} of them high or critical\n`);
  if (grave.length > 0) process.exitCode = 1;
}

function parsed(text) {
  try {
    return JSON.parse(text);
  } catch {
    return undefined;
  }
}
