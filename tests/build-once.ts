import { execFileSync } from 'node:child_process';

/** Tests of whole commands run the built program: build it once before any test. */
export default function setup(): void {
  execFileSync('npm', ['run', '--silent', 'build'], { stdio: 'inherit' });
}
