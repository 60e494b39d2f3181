import { createHash } from 'node:crypto';
import { rm } from 'node:fs/promises';
import { connect, createServer, type Server } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as wait } from 'node:timers/promises';

/** How long a run waits for another that is writing to the same folder, ms: writing takes seconds. Common practice, no source. */
const LONGEST_WAIT_MS = 120_000;
const STEP_MS = 20;

/**
 * Runs `work` while no other process of this machine is writing to the same folder or file. The lock is a local socket, which the system
 * frees when a process dies, so a killed run leaves no lock. Undefined if another run holds the lock too long.
 */
export async function whileLocked<T>(target: string, work: () => Promise<T>): Promise<T | undefined> {
  const address = addressOf(target);
  const server = await take(address);
  if (server === undefined) return undefined;
  try {
    return await work();
  } finally {
    await new Promise((done) => server.close(done));
  }
}

function addressOf(target: string): string {
  const name = `pavm-${createHash('sha256').update(target).digest('hex').slice(0, 24)}`;
  if (process.platform === 'linux') return `\0${name}`;
  if (process.platform === 'win32') return `\\\\.\\pipe\\${name}`;
  return join(tmpdir(), `${name}.lock`);
}

async function take(address: string): Promise<Server | undefined> {
  for (let waited = 0; waited < LONGEST_WAIT_MS; waited += STEP_MS) {
    const server = await listen(address);
    if (server !== undefined) return server;
    if (address.endsWith('.lock') && !(await answers(address))) await rm(address, { force: true });
    else await wait(STEP_MS);
  }
  return undefined;
}

function listen(address: string): Promise<Server | undefined> {
  return new Promise((done, failed) => {
    const server = createServer((client) => client.destroy());
    server.on('error', (error: NodeJS.ErrnoException) =>
      error.code === 'EADDRINUSE' ? done(undefined) : failed(error),
    );
    server.listen(address, () => done(server));
    server.unref();
  });
}

/** Whether a live process holds the socket; if sockets are files, a dead process leaves one behind. */
function answers(address: string): Promise<boolean> {
  return new Promise((done) => {
    const client = connect(address, () => {
      client.destroy();
      done(true);
    });
    client.on('error', () => done(false));
  });
}
