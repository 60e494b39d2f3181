// The licences of the packages that are installed with the program, from the lock file. Without --write: fails if the committed list
// differs from the lock file. Also fails for a licence that requires more than a notice.
import { readFileSync, writeFileSync } from 'node:fs';
import { NOTICE_ONLY } from './notice-only.mjs';

const LIST = 'src/licences.md';
const { packages } = JSON.parse(readFileSync('package-lock.json', 'utf8'));
const { dependencies, overrides } = JSON.parse(readFileSync('package.json', 'utf8'));
const rows = new Map();
for (const [path, { name, version, license, dev, devOptional, optional }] of Object.entries(packages)) {
  if (path === '' || dev || devOptional || optional) continue;
  const own = name ?? path.slice(path.lastIndexOf('node_modules/') + 'node_modules/'.length);
  rows.set(`${own} ${version}`, { own, version, license: license ?? 'not stated' });
}
const sorted = [...rows.values()].sort((a, b) =>
  `${a.own} ${a.version}` < `${b.own} ${b.version}` ? -1 : 1,
);
const refused = sorted.filter(({ license }) => !NOTICE_ONLY.includes(license));
const replaced = Object.entries(overrides ?? {}).flatMap(([by, list]) =>
  Object.keys(list).map((name) => `\`${name}\` of \`${by}\``),
);
const text = `# Licences of the dependencies

Generated from the lock file by \`npm run licences\`; do not edit. What is installed with the program, without the
developers' tools: ${sorted.length} packages. Bold: asked for by the program itself. The full texts of what is built into
\`dist\` are in \`dist/libraries/licences.txt\`. Replaced, because the program never calls it: ${replaced.join(', ') || 'nothing'}.

| Package | Version | Licence |
| --- | --- | --- |
${sorted
  .map(
    ({ own, version, license }) =>
      `| ${dependencies[own] === version ? `**${own}**` : own} | ${version} | ${license} |`,
  )
  .join('\n')}
`;
if (refused.length > 0) {
  for (const { own, version, license } of refused)
    process.stderr.write(
      `${own} ${version}: licence ${license} is not among those that ask for a notice only\n`,
    );
  process.exitCode = 1;
} else if (process.argv.includes('--write')) writeFileSync(LIST, text);
else if (readFileSync(LIST, 'utf8') !== text) {
  process.stderr.write(`${LIST} is not what package-lock.json gives: run npm run licences.\n`);
  process.exitCode = 1;
}
