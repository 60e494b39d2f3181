import { execFileSync } from 'node:child_process';
import { mkdirSync, mkdtempSync, rmSync, symlinkSync, writeFileSync } from 'node:fs';
import { createServer, type Server } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { InputFailure } from '../../src/foundation/failure.js';
import { openRegularFile, readRegularFile } from '../../src/foundation/regular-file.js';

let folder: string;
let server: Server;
const at = (name: string): string => join(folder, name);

beforeAll(async () => {
  folder = mkdtempSync(join(tmpdir(), 'pavm-regular-'));
  writeFileSync(at('ten'), '0123456789');
  writeFileSync(at('empty'), '');
  mkdirSync(at('folder'));
  execFileSync('mkfifo', [at('pipe')]);
  symlinkSync('loop', at('loop'));
  symlinkSync('pipe', at('to-pipe'));
  symlinkSync('ten', at('to-ten'));
  server = createServer().listen(at('socket'));
  await new Promise((done) => server.once('listening', done));
});
afterAll(() => {
  server.close();
  rmSync(folder, { recursive: true });
});

const refused: [string, () => string, string][] = [
  ['a folder', () => at('folder'), 'it is a folder, not a regular file. Give the path of a file.'],
  ['a pipe without a writer', () => at('pipe'), 'it is a pipe, not a regular file. Give the path of a file.'],
  ['a link to a pipe', () => at('to-pipe'), 'it is a pipe, not a regular file. Give the path of a file.'],
  ['a socket', () => at('socket'), 'it is a socket, not a regular file. Give the path of a file.'],
  ['a device', () => '/dev/zero', 'it is a device, not a regular file. Give the path of a file.'],
  ['nothing', () => at('none'), 'there is no such file. Check the path.'],
  ['a path through a file', () => at('ten/none'), 'there is no such file. Check the path.'],
  ['a link to itself', () => at('loop'), 'it is a symbolic link that leads to itself. Check the path.'],
  ['a name that is too long', () => at('n'.repeat(300)), 'the path is too long. Check the path.'],
];

describe.each(refused)('%s', (_name, path, problem) => {
  it('is not read', () => {
    const read = (): unknown => readRegularFile(path(), { shown: 'x', exitCode: 3, mostBytes: 10 });
    expect(read).toThrow(new InputFailure(3, `x: ${problem}`));
  });
  it('is not opened', async () => {
    await expect(openRegularFile(path(), { shown: 'x', exitCode: 2 })).rejects.toEqual(
      new InputFailure(2, `x: ${problem}`),
    );
  });
});

describe('a regular file', () => {
  it('is read up to the limit and not beyond', () => {
    expect(readRegularFile(at('ten'), { shown: 'x', exitCode: 3, mostBytes: 10 }).toString()).toBe(
      '0123456789',
    );
    expect(() => readRegularFile(at('ten'), { shown: 'x', exitCode: 3, mostBytes: 9 })).toThrow(
      'x: the file has 10 bytes; at most 9 are read. Give a smaller file.',
    );
  });
  it('is read through a link, and when empty', () => {
    expect(readRegularFile(at('to-ten'), { shown: 'x', exitCode: 3, mostBytes: 10 })).toHaveLength(10);
    expect(readRegularFile(at('empty'), { shown: 'x', exitCode: 3, mostBytes: 10 })).toHaveLength(0);
  });
  it.runIf(process.platform === 'linux')('that states no size is still bounded', () => {
    const path = '/proc/self/status';
    expect(readRegularFile(path, { shown: 'x', exitCode: 3, mostBytes: 2 ** 20 }).length).toBeGreaterThan(
      100,
    );
    expect(() => readRegularFile(path, { shown: 'x', exitCode: 3, mostBytes: 100 })).toThrow(
      'x: the file has more than 100 bytes; at most 100 are read.',
    );
  });
  it('is opened with its size', async () => {
    const { handle, bytes } = await openRegularFile(at('ten'), { shown: 'x', exitCode: 3 });
    await handle.close();
    expect(bytes).toBe(10);
  });
});
