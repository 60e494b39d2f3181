import { readdirSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { parse } from 'yaml';
import { parseCase } from '../../src/case/parse-case.js';
import { parseShelf } from '../../src/case/read-shelf.js';
import { codeSpans, ROOT, sectionOf, tableRows, textOf } from './documents.js';

const DEVELOPERS = textOf('DEVELOPERS.md');
const scripts: Record<string, string> = JSON.parse(textOf('package.json')).scripts;
const below = (folder: string): string[] =>
  readdirSync(new URL(folder, ROOT), { recursive: true, encoding: 'utf8' });

describe('DEVELOPERS.md', () => {
  it('its layers are those enforced by the check of imports, and the existing folders', () => {
    const rows = tableRows(sectionOf(DEVELOPERS, '## Structure')).slice(1);
    const table: string[][] = [];
    for (const [layer, folder] of rows) {
      table[Number(layer)] ??= [];
      table[Number(layer)].push(...codeSpans(folder));
    }
    const [, list] = /^const LAYERS = (\[.*?^\]);/ms.exec(textOf('src/build/check-boundaries.mjs')) ?? [];
    expect(table.map((folders) => folders.toSorted())).toEqual(
      (parse(list) as string[][]).map((folders) => folders.toSorted()),
    );
    const folders = readdirSync(new URL('src', ROOT), { withFileTypes: true })
      .filter((entry) => entry.isDirectory() && entry.name !== 'build')
      .map((entry) => entry.name);
    expect(table.flat().toSorted()).toEqual(folders.toSorted());
  });

  it('every source, rule and test file it names exists', () => {
    const files = [
      ...below('src').map((path) => `src/${path}`),
      ...below('tests').map((path) => `tests/${path}`),
    ];
    const named = codeSpans(DEVELOPERS).filter(
      (span) => /^[\w./-]+\.(ts|mjs|yaml|json)$/.test(span) && !span.includes('NAME'),
    );
    expect(named.length).toBeGreaterThan(30);
    const notOurs = new Set(['case.yaml', 'shelf.yaml', 'result.json', 'outputs.json', 'package.json']);
    const lost = named.filter(
      (name) => !notOurs.has(name) && !files.some((file) => `/${file}`.endsWith(`/${name}`)),
    );
    expect(lost).toEqual([]);
  });

  it('every npm script it names exists', () => {
    const asked = codeSpans(DEVELOPERS).flatMap((span) =>
      [...span.matchAll(/\bnpm run ([\w:-]+)/g)].map((match) => match[1]),
    );
    expect(asked).toContain('check');
    expect(asked.filter((name) => scripts[name] === undefined)).toEqual([]);
  });
});

describe('fixtures', () => {
  const files = below('tests/fixtures').filter((path) => /\.\w+$/.test(path) && path !== 'README.md');

  it('each has its line', () => {
    const listed = tableRows(textOf('tests/fixtures/README.md')).flatMap(([cell]) => codeSpans(cell));
    expect(listed.toSorted()).toEqual(files.toSorted());
  });

  it.each(files.filter((file) => file.startsWith('cases/')))(
    '%s reads as text, with the stated oddity',
    async (file) => {
      const text = textOf(`tests/fixtures/${file}`);
      if (file === 'cases/shelf.yaml') {
        const { devices } = await parseShelf(text, file);
        expect(devices.map(({ leadTimeDays }) => leadTimeDays)).toEqual([21, 3, 14]);
        return;
      }
      const { case: read, findings } = await parseCase(text, file);
      const ids = findings.map(({ id }) => id);
      if (file === 'cases/whole.yaml') expect(ids).toContain('branch-parent-assumed');
      if (file === 'cases/labels.yaml') expect(text).toContain(`label: ${2 ** 16 - 1}`);
      if (file === 'cases/full.yaml')
        expect([read.title, read.lesion.lobe]).toEqual(['Two-feeder lesion of the lingula', 'lower']);
    },
  );
});
