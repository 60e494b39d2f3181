import { execFileSync } from 'node:child_process';

/**
 * Tests of whole commands run the built program: build it once before any test. With PAVM_SKIP_BUILD=1 the build in dist/ is
 * used as it is.
 */
export default function setup(): void {
  if (process.env.PAVM_SKIP_BUILD === '1') return;
  execFileSync('npm', ['run', '--silent', 'build'], { stdio: 'inherit' });
}
