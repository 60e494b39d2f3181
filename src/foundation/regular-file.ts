import { closeSync, constants, fstatSync, openSync, readSync, type Stats, statSync } from 'node:fs';
import { type FileHandle, open, stat } from 'node:fs/promises';
import { InputFailure } from './failure.js';

/** How a file that cannot be used is named, and the exit code of the command. */
export interface FileWords {
  /** The path as messages show it. */
  shown: string;
  /** 2 for the command line and the case file, 3 for any other input. */
  exitCode: 2 | 3;
  /** What to do, without the full stop; default: text that fits the reason. */
  todo?: string;
}

/** Opening a pipe without a writer waits forever unless this is set. Absent on Windows. */
const READ_AT_ONCE = constants.O_RDONLY | (constants.O_NONBLOCK ?? 0);
const PIECE_BYTES = 2 ** 16;

/**
 * Opens a regular file for reading; the caller closes the handle. Anything else at the path (folder, pipe, socket, device) is rejected
 * without being opened, so that no command waits for it. Throws InputFailure.
 */
export async function openRegularFile(
  path: string,
  words: FileWords,
): Promise<{ handle: FileHandle; bytes: number }> {
  let handle: FileHandle | undefined;
  try {
    checkKind(await stat(path), words);
    handle = await open(path, READ_AT_ONCE);
    const facts = await handle.stat();
    checkKind(facts, words);
    return { handle, bytes: facts.size };
  } catch (error) {
    await handle?.close();
    return unusable(error, words);
  }
}

/** The bytes of a regular file of at most `mostBytes`, like `openRegularFile`. Throws InputFailure. */
export function readRegularFile(path: string, words: FileWords & { mostBytes: number }): Buffer {
  let file: number | undefined;
  try {
    checkKind(statSync(path), words);
    file = openSync(path, READ_AT_ONCE);
    const facts = fstatSync(file);
    checkKind(facts, words);
    return readToEnd(file, facts.size, words);
  } catch (error) {
    return unusable(error, words);
  } finally {
    if (file !== undefined) closeSync(file);
  }
}

/** Reads until the end; the stated size of a file is not trusted, since some state 0 and others grow. */
function readToEnd(file: number, stated: number, words: FileWords & { mostBytes: number }): Buffer {
  const { mostBytes } = words;
  const tooLarge = (bytes: string): never =>
    refuse(words, `the file has ${bytes} bytes; at most ${mostBytes} are read`, 'Give a smaller file');
  if (stated > mostBytes) tooLarge(String(stated));
  const pieces: Buffer[] = [];
  let total = 0;
  for (;;) {
    const piece = Buffer.allocUnsafe(Math.max(PIECE_BYTES, stated + 1 - total));
    const count = readSync(file, piece, 0, piece.length, null);
    if (count === 0) return pieces.length === 1 ? pieces[0] : Buffer.concat(pieces);
    pieces.push(piece.subarray(0, count));
    total += count;
    if (total > mostBytes) tooLarge(`more than ${mostBytes}`);
  }
}

function checkKind(facts: Stats, words: FileWords): void {
  if (facts.isFile()) return;
  refuse(words, `it is ${kindOf(facts)}, not a regular file`, 'Give the path of a file');
}

function kindOf(facts: Stats): string {
  if (facts.isDirectory()) return 'a folder';
  if (facts.isFIFO()) return 'a pipe';
  if (facts.isSocket()) return 'a socket';
  return 'a device';
}

function unusable(error: unknown, words: FileWords): never {
  if (!(error instanceof Error && 'code' in error && 'syscall' in error)) throw error;
  const { problem, todo } = systemProblem(error);
  return refuse(words, problem, todo);
}

/** Why the system rejected a path, as the end of a sentence, and what to do about it. */
export function systemProblem(error: unknown): { problem: string; todo: string } {
  const code = error instanceof Error && 'code' in error ? String(error.code) : 'unknown reason';
  if (code === 'ENOENT' || code === 'ENOTDIR')
    return { problem: 'there is no such file', todo: 'Check the path' };
  if (code === 'EACCES' || code === 'EPERM')
    return { problem: 'it may not be read', todo: 'Check its permissions' };
  if (code === 'ELOOP')
    return { problem: 'it is a symbolic link that leads to itself', todo: 'Check the path' };
  if (code === 'ENAMETOOLONG') return { problem: 'the path is too long', todo: 'Check the path' };
  return { problem: `it cannot be read (${code})`, todo: 'Check the path' };
}

function refuse({ shown, exitCode, todo }: FileWords, what: string, usual: string): never {
  throw new InputFailure(exitCode, `${shown}: ${what}. ${todo ?? usual}.`);
}
