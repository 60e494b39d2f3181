import { quoted } from '../../foundation/quoted-text.js';
import type { TriangleMesh } from '../mesh.js';
import { LARGEST_COORDINATE } from './mesh-builder.js';
import {
  checkByteCount,
  checkTriangleCount,
  EXPORT_AGAIN,
  type MeshFile,
  type MeshFormat,
  refuse,
  stem,
  uniqueNames,
} from './mesh-file.js';
import { claimedTriangles, isBinaryStlSize, readBinaryStl } from './stl-binary.js';

/** Usual extension of each format; a label map is not a mesh file and has none here. */
const EXTENSIONS: Record<MeshFormat, string> = {
  'stl-binary': 'stl',
  'stl-ascii': 'stl',
  obj: 'obj',
  ply: 'ply',
  gltf: 'gltf',
  glb: 'glb',
  '3mf': '3mf',
};

/**
 * The format of a mesh file from its first bytes (at least 1024 if available) and its size; the extension decides only if the content
 * does not. Undefined if it is none of them.
 */
export function meshFormat(start: Uint8Array, size: number, file: string): MeshFormat | undefined {
  const ascii = new TextDecoder('latin1').decode(start.subarray(0, 1024));
  const extension = /\.([a-z0-9]+)$/i.exec(file)?.[1].toLowerCase();
  if (ascii.startsWith('glTF')) return 'glb';
  if (ascii.startsWith('PK\x03\x04') || ascii.startsWith('PK\x05\x06')) return '3mf';
  if (/^ply[ \t]*[\r\n]/.test(ascii)) return 'ply';
  if (isBinaryStlSize(start, size)) return 'stl-binary';
  const text = ascii.replace(/^ï»¿/, '').trimStart();
  const isText = !ascii.includes('\0');
  if (/^solid\b/i.test(text)) return isText ? 'stl-ascii' : 'stl-binary';
  if (isText && text.startsWith('{')) return 'gltf';
  if (isText && (extension === 'obj' || /^(v|vn|vt|o|g|mtllib|usemtl)[ \t]/m.test(text))) return 'obj';
  if (extension === 'stl' && claimedTriangles(start) !== undefined) return 'stl-binary';
  return undefined;
}

/** One sentence for a file that is not a mesh. */
export const MESH_FORMATS = 'STL, OBJ, PLY, glTF 2.0 (embedded) or GLB, and 3MF are read';

/**
 * Reads a mesh file from memory; see `MeshFile`. Throws one `InputFailure` (3) on anything it cannot use. `isWhole`: false if the bytes
 * are embedded in `file`, whose name then does not indicate their format.
 */
export async function readMesh(bytes: Uint8Array, file: string, isWhole = true): Promise<MeshFile> {
  checkByteCount(file, bytes.length);
  const format = meshFormat(bytes.subarray(0, 1024), bytes.length, file);
  if (!format) {
    if (bytes.length < 84 && /\.stl$/i.test(file)) {
      refuse(file, '', `${bytes.length} bytes are too few for an STL file`, EXPORT_AGAIN);
    }
    return refuse(file, '', 'it is not a mesh file that can be read', MESH_FORMATS);
  }
  return finish(await readAs(format, bytes, file), file, isWhole);
}

async function readAs(format: MeshFormat, bytes: Uint8Array, file: string): Promise<MeshFile> {
  switch (format) {
    case 'stl-binary':
      return { format, objects: [{ name: stem(file), mesh: readBinaryStl(bytes, file) }], notes: [] };
    case 'stl-ascii': {
      const { readAsciiStl } = await import('./stl-ascii.js');
      return { format, objects: readAsciiStl(bytes, file), notes: [] };
    }
    case 'obj': {
      const { readObj } = await import('./obj.js');
      return { format, ...readObj(bytes, file) };
    }
    case 'ply': {
      const { readPly } = await import('./ply.js');
      return { format, ...readPly(bytes, file) };
    }
    case 'gltf':
    case 'glb': {
      const { readGltf } = await import('./gltf.js');
      return readGltf(bytes, file);
    }
    case '3mf': {
      const { read3mf } = await import('./threemf.js');
      return read3mf(bytes, file);
    }
  }
}

/** Checks for every format: some triangles, not too many, unique names, and a note on a wrong extension. */
export function finish(read: MeshFile, file: string, isWhole = true): MeshFile {
  read.objects = read.objects.filter((o) => o.mesh.triangles.length > 0);
  if (read.objects.length === 0) refuse(file, '', 'it contains no triangles', EXPORT_AGAIN);
  checkTriangleCount(
    file,
    read.objects.reduce((sum, o) => sum + o.mesh.triangles.length / 3, 0),
  );
  for (const { name, mesh } of read.objects) checkPlaced(file, name, mesh);
  uniqueNames(read.objects);
  const extension = /\.([a-z0-9]+)$/i.exec(file)?.[1].toLowerCase();
  const usual = read.format === 'label-map' ? undefined : EXTENSIONS[read.format];
  if (isWhole && usual && extension && extension !== usual && Object.values(EXTENSIONS).includes(extension)) {
    read.notes.push(`The name ends in .${extension}, the content is ${usual.toUpperCase()}.`);
  }
  return read;
}

/** Vertices are checked while reading, but a later transform can still move them out of range. */
function checkPlaced(file: string, name: string, { positions }: TriangleMesh): void {
  const at = positions.findIndex((x) => !(Math.abs(x) <= LARGEST_COORDINATE));
  if (at < 0) return;
  const vertex = Math.floor(at / 3);
  const point = positions.subarray(3 * vertex, 3 * vertex + 3).join(', ');
  refuse(
    file,
    `object ${quoted(name)}`,
    `its transform moves vertex ${vertex + 1} to ${point}, which is not a usable place`,
    EXPORT_AGAIN,
  );
}
