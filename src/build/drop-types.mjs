// Removes the built type files that are not reachable from the library's own types: nobody can import them.
import { existsSync, readdirSync, readFileSync, rmSync } from 'node:fs';
import { dirname, join } from 'node:path';

const kept = new Set();
const keep = (file) => {
  if (kept.has(file) || !existsSync(file)) return;
  kept.add(file);
  for (const [, path] of readFileSync(file, 'utf8').matchAll(/['"](\.{1,2}\/[^'"]+)\.js['"]/g))
    keep(join(dirname(file), `${path}.d.ts`));
};
keep(join('dist', 'index.d.ts'));
for (const file of readdirSync('dist', { recursive: true })) {
  const path = join('dist', file);
  if (path.endsWith('.d.ts') && !kept.has(path)) rmSync(path);
}
