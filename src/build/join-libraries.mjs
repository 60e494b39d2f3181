// Joins libraries into files that contain only the parts the program uses, and points the built modules to them: a start opens about five
// hundred files fewer, and packages that only the build needs are not installed with the program.
import { copyFileSync, readdirSync, readFileSync, writeFileSync } from 'node:fs';
import { dirname, join, relative } from 'node:path';
import { buildSync } from 'esbuild';
import { JOINED, VIEWER_LIBRARY } from './joined.mjs';
import { NOTICE_ONLY } from './notice-only.mjs';

const texts = new Map(
  readdirSync('dist', { recursive: true })
    .filter((file) => file.endsWith('.js') && !/^(page\/viewer|libraries|joined)/.test(file))
    .map((file) => join('dist', file))
    .map((file) => [file, readFileSync(file, 'utf8')]),
);
const READS_NAMES = ['dicom'];
/** Replacements for modules that are slow to load. */
const INSTEAD = {
  // loaded only by programs that start each command as a separate program, which ours does not
  commander: { 'node:child_process': './src/build/child-process-later.cjs' },
  // without threads, which only its asynchronous half starts
  inflate: { fflate: 'fflate/browser' },
  zip: { fflate: 'fflate/browser' },
};
/** Folders of the packages that are in the joined files. */
const joined = new Set([`node_modules/${VIEWER_LIBRARY}`]);
for (const [name, libraries] of Object.entries(JOINED)) {
  const outfile = join('dist', 'libraries', `${name}.js`);
  const exported = libraries.map((entry) => {
    const [library, only] = entry.split('#');
    const names = [...pointTo(outfile, library, only?.split(','))].sort();
    return `export { ${names.join(', ')} } from '${library}';`;
  });
  const { metafile } = buildSync({
    metafile: true,
    alias: INSTEAD[name] ?? {},
    ...(name === 'chart' && {
      define: { 'Intl.NumberFormat': 'NumberFormatLater' },
      inject: ['src/build/number-format-later.mjs'],
    }),
    stdin: { contents: exported.join('\n'), resolveDir: '.' },
    outfile,
    bundle: true,
    format: 'esm',
    platform: 'node',
    // some of them are written with require()
    banner: {
      js: "import { createRequire } from 'node:module';\nconst require = createRequire(import.meta.url);",
    },
    charset: 'ascii',
    minify: true,
    // names cost time for every closure that is created, so only libraries that read them keep them
    keepNames: READS_NAMES.includes(name),
    logLevel: 'warning',
  });
  for (const input of Object.keys(metafile.inputs)) {
    const folder = /^.*node_modules\/(?:@[^/]+\/)?[^/]+/.exec(input);
    if (folder) joined.add(folder[0]);
  }
}
// zlib, compiled
joined.add('node_modules/@zip.js/zip.js');
copyFileSync('node_modules/@zip.js/zip.js/dist/zip-module.wasm', join('dist', 'libraries', 'zlib.wasm'));
writeFileSync(join('dist', 'libraries', 'licences.txt'), [...joined].sort().map(licenceOf).join('\n\n'));
for (const [file, text] of texts) writeFileSync(file, text);
// the solid kernel looks for its program in its own folder
copyFileSync('node_modules/manifold-3d/manifold.wasm', join('dist', 'libraries', 'manifold.wasm'));

/** Points the imports of a library, or only the names `only`, to a file; returns the names that are imported. */
function pointTo(outfile, library, only) {
  const names = new Set();
  for (const [file, text] of texts) {
    const path = relative(dirname(file), outfile).replaceAll('\\', '/');
    const target = `'${path.startsWith('.') ? path : `./${path}`}'`;
    const use = (before, list, after) => {
      const used = list
        .split(',')
        .filter((name) => name.trim())
        .map((name) => name.trim().split(/\s+as\s+|\s*:/)[0]);
      if (only && used.join() !== only.join()) return before;
      for (const name of used) names.add(name);
      return after;
    };
    const pointed = text
      .replace(new RegExp(`import \\{([^}]*)\\} from (['"])${library}\\2`, 'g'), (before, list) =>
        use(before, list, `import {${list}} from ${target}`),
      )
      .replace(new RegExp(`\\{([^{}]*)\\} = await import\\((['"])${library}\\2\\)`, 'g'), (before, list) =>
        use(before, list, `{${list}} = await import(${target})`),
      )
      .replace(new RegExp(`import (\\w+) from (['"])${library}\\2`, 'g'), (before, name) =>
        use(before, 'default', `import ${name} from ${target}`),
      );
    if (!only && new RegExp(`(?:from|import|import\\() *(['"])${library}\\1`).test(pointed))
      throw new Error(`${file} imports ${library} in a form that is not joined: import its names in braces`);
    texts.set(file, pointed);
  }
  return names;
}

/** Name, version and licence text of a package; fails if the package contains none and its package.json names no licence. */
function licenceOf(folder) {
  const { name, version, license } = JSON.parse(readFileSync(join(folder, 'package.json'), 'utf8'));
  const file = readdirSync(folder).find((entry) => /^licen[cs]e/i.test(entry));
  if (!file && !license) throw new Error(`${folder} states no licence`);
  if (license && !NOTICE_ONLY.includes(license))
    throw new Error(`${folder}: licence ${license} is not among those that ask for a notice only`);
  const text = file ? readFileSync(join(folder, file), 'utf8').trim() : `Licence: ${license}`;
  return `${name} ${version}\n\n${text}\n`;
}
