import { existsSync, mkdtempSync, readdirSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join, relative } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { COMMANDS } from '../../src/cli/commands.js';
import { parseReadings } from '../../src/print/readings.js';
import { pavm } from '../cli/run-pavm.js';
import {
  anchorsOf,
  blockLines,
  codeSpans,
  linksOf,
  ROOT,
  sectionOf,
  tableRows,
  textOf,
} from './documents.js';

const README = textOf('README.md');
const scripts: Record<string, string> = JSON.parse(textOf('package.json')).scripts;
const shell = blockLines(README, 'sh');
const names = COMMANDS.map(({ name }) => name).toSorted();

describe.each(['README.md', 'DEVELOPERS.md', 'CHANGELOG.md', 'tests/fixtures/README.md'])(
  'links of %s',
  (file) => {
    const text = textOf(file);

    it('every relative link leads to a file or a heading', () => {
      const lost = linksOf(text).filter((link) => {
        if (/^[a-z]+:/.test(link)) return false;
        const [path, anchor] = link.split('#');
        const target = path === '' ? text : undefined;
        if (target === undefined && !existsSync(new URL(path, new URL(file, ROOT)))) return true;
        return anchor !== undefined && !anchorsOf(target ?? textOf(path)).includes(anchor);
      });
      expect(lost).toEqual([]);
    });

    it('every path named in code exists', () => {
      const paths = codeSpans(text).filter(
        (span) => /^(src|tests|cases|examples|bin)\/[\w./-]+$/.test(span) && !/NAME|\/plan\//.test(span),
      );
      const exists = (path: string): boolean =>
        existsSync(new URL(path, ROOT)) || existsSync(new URL(path, new URL(file, ROOT)));
      expect(paths.filter((path) => !exists(path))).toEqual([]);
    });
  },
);

describe('commands of README.md', () => {
  it('the opening: one paragraph, then install-and-demo and the tests', () => {
    const [title, job, ...rest] = README.split(/\n\n+/);
    expect(title).toBe('# pavm');
    expect(job).toMatch(/^A heart team .*\.$/);
    const [inOut] = rest;
    expect(inOut.match(/(?<=^- \*\*)[^*]+/gm)).toEqual(['In', 'Out', 'Not promised']);
    expect(shell.slice(0, 2)).toEqual(['npm ci && npm run demo', 'npm test']);
  });

  it('npm scripts exist', () => {
    const asked = [...shell, ...codeSpans(README)].flatMap((line) => [
      ...[...line.matchAll(/\bnpm run (?:-\S+ )*([\w:-]+)/g)].map((match) => match[1]),
      ...(/\bnpm test\b/.test(line) ? ['test'] : []),
    ]);
    expect(asked).toContain('demo');
    expect(asked.filter((name) => scripts[name] === undefined)).toEqual([]);
  });

  it('every other line of a shell block is a pavm command', () => {
    for (const line of shell.slice(2)) expect(line).toMatch(/^(npx pavm|pavm|npm) /);
  });

  it('every pavm command named exists, and the table names every one', () => {
    const named = [...shell, ...codeSpans(README)].flatMap((line) =>
      [...line.matchAll(/\bpavm ([a-z]+)/g)].map((match) => match[1]),
    );
    expect([...new Set(named)].toSorted()).toEqual(names);
    const rows = tableRows(README).flatMap(([cell]) => /^`pavm ([a-z]+)/.exec(cell)?.[1] ?? []);
    expect(rows.toSorted()).toEqual(names);
  });

  it('every flag appears with a command that has it', () => {
    const wrong = [...shell, ...codeSpans(README)].flatMap((line) => {
      const command = COMMANDS.find(({ name }) => line.match(/\bpavm ([a-z]+)/)?.[1] === name);
      const known = (command ? [command] : COMMANDS).flatMap(({ options }) =>
        options.map(({ flag }) => flag.split(' ')[0]),
      );
      return [...line.matchAll(/(?<![\w-])--[a-z-]+/g)]
        .map(([flag]) => flag)
        .filter((flag) => ![...known, '--help'].includes(flag))
        .map((flag) => `${line}: ${flag}`);
    });
    expect(wrong).toEqual([]);
  });

  it('the example of readings can be read', () => {
    const text = /^```yaml\n(.*?)^```$/ms.exec(README)?.[1] ?? '';
    const { readings } = parseReadings(Buffer.from(text), 'readings.yaml', ['G1', 'G2'], '7A3F09C2');
    expect(readings.map(({ valueMm }) => valueMm)).toEqual([6.9, 6.8]);
  });
});

describe('README.md against a plan computed now', () => {
  const out = mkdtempSync(join(tmpdir(), 'pavm-readme-'));
  afterAll(() => rmSync(out, { recursive: true, force: true }));
  let files: string[] = [];
  let plan = '';
  beforeAll(() => {
    expect(pavm(['plan', 'cases/plover', '--out', out])).toMatchObject({ code: 0 });
    files = readdirSync(out, { recursive: true, withFileTypes: true })
      .filter((entry) => entry.isFile())
      .map((entry) => relative(out, join(entry.parentPath, entry.name)));
    plan = readFileSync(join(out, 'plan.md'), 'utf8');
  }, 120_000);

  it('every row of the excerpt is in plan.md, digit for digit', () => {
    const rowsOf = (text: string): string[] => [
      ...tableRows(text).map((cells) => cells.join(' | ')),
      ...text.split('\n').filter((line) => line.startsWith('- ')),
    ];
    const printed = new Set(rowsOf(plan));
    const quoted = rowsOf(sectionOf(README, '## What a plan looks like'));
    expect(quoted.length).toBeGreaterThan(8);
    expect(quoted.join('\n').match(/\d+\.\d/g)?.length).toBeGreaterThan(30);
    expect(quoted.filter((row) => !printed.has(row))).toEqual([]);
  });

  it('advises one plan, and both are ready', () => {
    const { readiness } = JSON.parse(readFileSync(join(out, 'result.json'), 'utf8'));
    expect(readiness).toMatchObject({
      recommended: 'embolise',
      plan_a: { ready_today: true },
      plan_b: { ready_today: true },
    });
  });

  it('the picture is the one of the plan', () => {
    const [, picture] = /!\[[^\]]+\]\((examples\/[\w-]+\.svg)\)/.exec(README)!;
    expect(readFileSync(picture, 'utf8')).toBe(readFileSync(join(out, 'figures/working-A1.svg'), 'utf8'));
  });

  it('the list of files matches the folder', () => {
    const patterns = tableRows(sectionOf(README, '### What a plan folder holds')).flatMap(([cell]) =>
      codeSpans(cell).map(
        (glob) => [glob, new RegExp(`^${glob.replaceAll('.', '\\.').replaceAll('*', '[^/]+')}$`)] as const,
      ),
    );
    expect(files.filter((file) => !patterns.some(([, pattern]) => pattern.test(file)))).toEqual([]);
    const unused = patterns.filter(([, pattern]) => !files.some((file) => pattern.test(file)));
    expect(unused.map(([glob]) => glob)).toEqual([]);
  });
});
