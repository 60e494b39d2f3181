import { execFileSync } from 'node:child_process';
import { readFileSync } from 'node:fs';
import { dirname, join, normalize } from 'node:path';
import { beforeAll, describe, expect, it, vi } from 'vitest';
import { linksOf } from './documents.js';

vi.setConfig({ testTimeout: 60_000, hookTimeout: 120_000 });

/** Largest size of the package, packed, in bytes. */
const MOST_BYTES = 2_000_000;

describe('the package', () => {
  let files: string[] = [];
  let size = 0;
  beforeAll(() => {
    const told = execFileSync('npm', ['pack', '--dry-run', '--json', '--ignore-scripts'], {
      encoding: 'utf8',
    });
    const [pack] = JSON.parse(told);
    size = pack.size;
    files = pack.files.map(({ path }: { path: string }) => path);
  });

  it('is small', () => {
    expect(files).toContain('dist/joined/main.js');
    expect(files.length).toBeLessThan(300);
    expect(size).toBeLessThan(MOST_BYTES);
  });

  it('contains what its own documents link to', () => {
    const folders = new Set(files.flatMap((file) => [dirname(file), dirname(dirname(file))]));
    const lost = files
      .filter((file) => file.endsWith('.md'))
      .flatMap((file) =>
        linksOf(readFileSync(file, 'utf8'))
          .filter((link) => !/^([a-z]+:|#)/.test(link))
          .map((link) => ({ file, target: normalize(join(dirname(file), link.split('#')[0])) })),
      )
      .filter(({ target }) => !files.includes(target) && !folders.has(target));
    expect(lost).toEqual([]);
  });

  it('contains every type that its types refer to, and nothing that only tests need', () => {
    const types = files.filter((file) => file.endsWith('.d.ts'));
    expect(types).toContain('dist/index.d.ts');
    const lost = types.flatMap((file) =>
      [...readFileSync(file, 'utf8').matchAll(/['"](\.{1,2}\/[^'"]+)\.js['"]/g)]
        .map(([, path]) => `${join(dirname(file), path)}.d.ts`)
        .filter((path) => !files.includes(path)),
    );
    expect(lost).toEqual([]);
    expect(files.filter((file) => /phantoms|^tests|^dist\/build/.test(file))).toEqual([]);
  });

  it('lists the licences of what it installs', () => {
    expect(files).toContain('src/licences.md');
    expect(files).toContain('dist/libraries/licences.txt');
  });
});
