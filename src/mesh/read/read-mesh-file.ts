import type { FileHandle } from 'node:fs/promises';
import { EXIT, InputFailure } from '../../foundation/failure.js';
import { openRegularFile, systemProblem } from '../../foundation/regular-file.js';
import { inStage } from '../../foundation/stage.js';
import { checkByteCount, type MeshFile, pickObject, refuse, stem } from './mesh-file.js';
import { finish, meshFormat, readMesh } from './read-mesh.js';
import { BinaryStlReader } from './stl-binary.js';

const PIECE_BYTES = 4 * 2 ** 20;

export interface ReadOptions {
  /** Keep only the object of this name. */
  object?: string;
  /** The path shown in messages; default: the path itself. */
  shown?: string;
}

/**
 * Reads a mesh file from disk. A binary STL is read in pieces of 4 MiB and welded while reading, so that neither the file nor the triangle
 * soup is kept in memory; other formats are read whole. Throws `InputFailure` (3).
 */
export function readMeshFile(path: string, options: ReadOptions = {}): Promise<MeshFile> {
  return inStage('read', () => readOpened(path, options));
}

async function readOpened(path: string, options: ReadOptions): Promise<MeshFile> {
  const shown = options.shown ?? path;
  const { handle, bytes } = await openRegularFile(path, { shown, exitCode: EXIT.input });
  try {
    checkByteCount(shown, bytes);
    const start = new Uint8Array(Math.min(1024, bytes));
    await handle.read(start, 0, start.length, 0);
    const isLargeBinary = meshFormat(start, bytes, shown) === 'stl-binary';
    const file = isLargeBinary
      ? await streamBinaryStl(handle, bytes, shown)
      : await readMesh(await handle.readFile(), shown);
    if (options.object === undefined) return file;
    return { ...file, objects: [pickObject(shown, file.objects, options.object)] };
  } catch (error) {
    if (error instanceof InputFailure || !(error instanceof Error && 'syscall' in error)) throw error;
    const { problem, todo } = systemProblem(error);
    return refuse(shown, '', problem, todo);
  } finally {
    await handle.close();
  }
}

async function streamBinaryStl(handle: FileHandle, size: number, shown: string): Promise<MeshFile> {
  const reader = new BinaryStlReader(shown, size);
  const piece = new Uint8Array(Math.min(PIECE_BYTES, size));
  for (let at = 0; at < size; ) {
    const { bytesRead } = await handle.read(piece, 0, piece.length, at);
    if (bytesRead === 0) break;
    inStage('weld', () => reader.push(piece.subarray(0, bytesRead)));
    at += bytesRead;
  }
  const objects = [{ name: stem(shown), mesh: reader.end() }];
  return finish({ format: 'stl-binary', objects, notes: [] }, shown);
}
