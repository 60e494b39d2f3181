import { execFileSync, spawnSync } from 'node:child_process';
import { mkdirSync, mkdtempSync, rmSync, symlinkSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join, resolve } from 'node:path';
import { afterAll, beforeAll, describe, expect, it, vi } from 'vitest';
import { folderHash, pavm } from './run-pavm.js';

vi.setConfig({ testTimeout: 120_000, hookTimeout: 120_000 });

/** The package, unpacked into its own folder, without the files that only a checkout has. */
describe('the installed package', () => {
  const folder = mkdtempSync(join(tmpdir(), 'pavm-installed-'));
  const installed = (...args: string[]) =>
    spawnSync(process.execPath, [join(folder, 'package', 'bin', 'pavm'), ...args], { encoding: 'utf8' });
  beforeAll(() => {
    const told = execFileSync('npm', ['pack', '--json', '--ignore-scripts', '--pack-destination', folder], {
      encoding: 'utf8',
    });
    execFileSync('tar', ['-xzf', join(folder, JSON.parse(told)[0].filename), '-C', folder]);
    symlinkSync(resolve('node_modules'), join(folder, 'package', 'node_modules'));
  });
  afterAll(() => rmSync(folder, { recursive: true, force: true }));

  it.each(['heron', 'lapwing'])('plans %s as the checkout does', (name) => {
    const [packed, built] = ['packed', 'built'].map((from) => join(folder, `${name}-${from}`));
    const ran = installed('plan', join('cases', name), '--out', packed, '-q');
    expect(ran.status).toBe(pavm(['plan', join('cases', name), '--out', built, '-q']).code);
    expect(folderHash(packed).length).toBeGreaterThan(10);
    expect(folderHash(packed)).toEqual(folderHash(built));
  });

  it.each([
    [['--version'], 0],
    [['check', 'cases/plover'], 0],
    [['shunt', 'cases/heron'], 0],
    [['inspect', 'cases/lapwing/ct'], 0],
    [['size', '--calibre', '6.2mm', '--zone', '15mm', '--shelf', 'examples/shelf.yaml'], 0],
  ])('runs %j', (args, code) => {
    const { status, stderr } = installed(...args);
    expect({ status, stderr }).toMatchObject({ status: code });
  });

  it('can be imported as a library', () => {
    mkdirSync(join(folder, 'user'));
    const script = "import('pavm-planner').then((pavm) => console.log(Object.keys(pavm).length))";
    mkdirSync(join(folder, 'user', 'node_modules'));
    symlinkSync(join(folder, 'package'), join(folder, 'user', 'node_modules', 'pavm-planner'));
    const count = execFileSync(process.execPath, ['-e', script], {
      cwd: join(folder, 'user'),
      encoding: 'utf8',
    });
    expect(Number(count)).toBeGreaterThan(5);
  });
});
