// Removes comments and indentation from the built modules: the package is shipped without them; the type files keep their comments.
import { readdirSync, readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { transformSync } from 'esbuild';

for (const file of readdirSync('dist', { recursive: true })) {
  if (!file.endsWith('.js') || /^(page\/viewer|libraries|joined)/.test(file)) continue;
  const path = join('dist', file);
  const code = readFileSync(path, 'utf8');
  const options = {
    minifyWhitespace: true,
    format: 'esm',
    target: 'es2022',
    charset: 'utf8',
    legalComments: 'none',
  };
  writeFileSync(path, transformSync(code, options).code);
}
