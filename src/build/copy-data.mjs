// Copies the files that the compiler does not copy (schemas and rule files) next to the built code.
import { cpSync, readdirSync } from 'node:fs';
import { join } from 'node:path';

const DATA = /\.(json|yaml|ttf|css|html)$/;
for (const entry of readdirSync('src', { recursive: true, withFileTypes: true })) {
  if (!entry.isFile() || !DATA.test(entry.name)) continue;
  const from = join(entry.parentPath, entry.name);
  cpSync(from, from.replace(/^src/, 'dist'));
}
