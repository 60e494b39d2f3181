import { type FileHandle, open } from 'node:fs/promises';
import { InputFailure } from '../../foundation/failure.js';
import { checkByteCount, type MeshFile, pickObject, refuse, stem } from './mesh-file.js';
import { finish, meshFormat, readMesh } from './read-mesh.js';
import { BinaryStlReader } from './stl-binary.js';

const PIECE_BYTES = 4 * 2 ** 20;

export interface ReadOptions {
  /** Keep only the object of this name. */
  object?: string;
  /** The path as messages show it; the path itself where left out. */
  shown?: string;
}

/**
 * Reads a mesh file from disk. A binary STL is read in pieces of 4 MiB and welded on the way, so neither the
 * file nor the triangle soup is held; other formats are read whole. Throws `InputFailure` (3).
 */
export async function readMeshFile(path: string, options: ReadOptions = {}): Promise<MeshFile> {
  const shown = options.shown ?? path;
  let handle: FileHandle;
  try {
    handle = await open(path, 'r');
  } catch (error) {
    return refuse(shown, '', reason(error), 'Check the path');
  }
  try {
    const stat = await handle.stat();
    if (!stat.isFile()) refuse(shown, '', 'it is not a file', 'Give a mesh file');
    checkByteCount(shown, stat.size);
    const start = new Uint8Array(Math.min(1024, stat.size));
    await handle.read(start, 0, start.length, 0);
    const isLargeBinary = meshFormat(start, stat.size, shown) === 'stl-binary';
    const file = isLargeBinary
      ? await streamBinaryStl(handle, stat.size, shown)
      : await readMesh(await handle.readFile(), shown);
    if (options.object === undefined) return file;
    return { ...file, objects: [pickObject(shown, file.objects, options.object)] };
  } catch (error) {
    if (error instanceof InputFailure || !(error instanceof Error && 'syscall' in error)) throw error;
    return refuse(shown, '', reason(error), 'Check the path and the rights to it');
  } finally {
    await handle.close();
  }
}

async function streamBinaryStl(handle: FileHandle, size: number, shown: string): Promise<MeshFile> {
  const reader = new BinaryStlReader(shown, size);
  const piece = new Uint8Array(PIECE_BYTES);
  for (let at = 0; at < size; ) {
    const { bytesRead } = await handle.read(piece, 0, PIECE_BYTES, at);
    if (bytesRead === 0) break;
    reader.push(piece.subarray(0, bytesRead));
    at += bytesRead;
  }
  const objects = [{ name: stem(shown), mesh: reader.end() }];
  return finish({ format: 'stl-binary', objects, notes: [] }, shown);
}

/** Why a file cannot be opened or read, as the end of a sentence. */
export function reason(error: unknown): string {
  const code = error instanceof Error && 'code' in error ? error.code : undefined;
  if (code === 'ENOENT' || code === 'ENOTDIR') return 'there is no such file';
  if (code === 'EACCES' || code === 'EPERM') return 'it may not be read';
  return `it cannot be read (${String(code)})`;
}
