// Reads thousands of mutated inputs with every reader, on the built code in dist/.
//   npm run fuzz -- [--inputs 20000] [--seed N] [--only NAME] [--keep FOLDER] [--patience 60]
// Exits with 1 if a reader did anything but read or refuse; --keep writes the inputs that caused it.
import { mkdtempSync, rmSync } from 'node:fs';
import { dirname, join, resolve, sep } from 'node:path';
import { fileURLToPath, pathToFileURL } from 'node:url';
import { build } from 'esbuild';

const here = dirname(fileURLToPath(import.meta.url));
const root = join(here, '..', '..');
const [src, dist] = [join(root, 'src') + sep, join(root, 'dist') + sep];

/** The readers are those of dist/, as users run them. */
const builtCode = {
  name: 'built-code',
  setup({ onResolve, onLoad }) {
    onResolve({ filter: /\/src\// }, ({ path, resolveDir }) => ({
      path: resolve(resolveDir, path).replace(src, dist),
      external: true,
    }));
    // the seeds are next to the sources
    onLoad({ filter: /readers\.ts$/ }, async ({ path }) => {
      const { readFile } = await import('node:fs/promises');
      const text = await readFile(path, 'utf8');
      return {
        loader: 'ts',
        contents: text.replaceAll('import.meta.url', JSON.stringify(pathToFileURL(path).href)),
      };
    });
  },
};
// inside the repository, so that packages are found
const folder = mkdtempSync(join(dist, 'fuzz-'));
process.on('exit', () => rmSync(folder, { recursive: true, force: true }));
await build({
  entryPoints: [join(here, 'main.ts'), join(here, 'worker.ts')],
  outdir: folder,
  outExtension: { '.js': '.mjs' },
  bundle: true,
  splitting: true,
  platform: 'node',
  target: 'node20',
  format: 'esm',
  packages: 'external',
  plugins: [builtCode],
  logLevel: 'warning',
});
await import(pathToFileURL(join(folder, 'main.mjs')).href);
