import { execFileSync } from 'node:child_process';
import { existsSync, readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';

describe('the toolkit as a library', { timeout: 120_000 }, () => {
  it('the example works with the package by its name', () => {
    const out = execFileSync(process.execPath, ['examples/library.mjs'], { encoding: 'utf8' });
    expect(out).toMatch(/^shunt 31\.8 %, advice: /);
    expect(out).toContain('A1 (feeder): 6.8 mm');
    expect(out).toContain('A1: PLUG-10, 47 % over');
  });

  it('every export of the package exists, with types', () => {
    const { exports } = JSON.parse(readFileSync('package.json', 'utf8')) as {
      exports: Record<string, string | Record<string, string>>;
    };
    const files = Object.values(exports).flatMap((one) =>
      typeof one === 'string' ? one : Object.values(one),
    );
    for (const file of files) expect(existsSync(file), file).toBe(true);
    expect(readFileSync('dist/index.d.ts', 'utf8')).toContain('planCase(path: string');
  });
});
