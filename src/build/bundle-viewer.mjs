// Bundles the page's own program into one script that is included in every page; the case's data are added to the page later.
import { statSync } from 'node:fs';
import { build } from 'esbuild';

const OUT = 'dist/page/viewer.js';
/** three, tree-shaken and minified, makes up nearly all of it. */
const LARGEST_BYTES = 900_000;

await build({
  entryPoints: ['src/page/viewer/viewer.ts'],
  outfile: OUT,
  bundle: true,
  minify: true,
  format: 'iife',
  target: 'es2022',
  charset: 'ascii',
  legalComments: 'inline',
  logLevel: 'warning',
});
const { size } = statSync(OUT);
if (size > LARGEST_BYTES) throw new Error(`${OUT} has ${size} bytes, more than ${LARGEST_BYTES}`);
