import { fixed } from '../foundation/number-text.js';

/** Number of bytes of the head that `headerProblem` examines. */
export const HEADER_BYTES = 4096;

const MESH_ENDINGS = ['.stl', '.obj', '.ply', '.glb', '.gltf', '.3mf'] as const;
const LABEL_ENDINGS = ['.nii', '.nii.gz', '.nrrd', '.dcm'] as const;

/** File extensions of mesh files that can be read. */
export const isMeshName = (name: string): boolean =>
  MESH_ENDINGS.some((ending) => name.toLowerCase().endsWith(ending));

/**
 * Checks a mesh or label map by its first bytes and its size, without reading it. Returns a sentence that states why it cannot be what its
 * name says, or undefined. Deliberately cheap; the readers check everything else.
 *
 * STL: 80 bytes, a count, 50 bytes per triangle. glTF binary: magic, version and length (Khronos glTF 2.0, 4.4). 3MF: a ZIP archive. PLY,
 * NRRD: magic words. NIfTI: header size 348 or 540. DICOM: "DICM" at byte 128 (PS3.10, 7.1).
 */
export function headerProblem(
  head: Uint8Array,
  size: number,
  name: string,
  role: 'mesh' | 'labels',
): string | undefined {
  const lower = name.toLowerCase();
  const text = latin1(head);
  if (text.startsWith('version https://git-lfs'))
    return 'is a Git LFS pointer, not the file itself. Fetch it with: git lfs pull';
  if (/^\s*<(?:!doctype html|html)/i.test(text))
    return 'is a web page, not the file itself. Download it again.';
  const endings: readonly string[] = role === 'mesh' ? MESH_ENDINGS : LABEL_ENDINGS;
  const ending = [...endings].sort((a, b) => b.length - a.length).find((e) => lower.endsWith(e));
  if (role === 'labels') return labelProblem(head, text, ending);
  switch (ending) {
    case '.stl':
      return stlProblem(head, text, size);
    case '.ply':
      return /^ply\r?\n/.test(text) ? undefined : 'does not start with "ply", as a PLY file does.';
    case '.glb':
      return glbProblem(head, text, size);
    case '.gltf':
      return /^(?:\u00ef\u00bb\u00bf)?\s*\{/.test(text)
        ? undefined
        : 'does not start with "{", as a glTF file does.';
    case '.3mf':
      return text.startsWith('PK\u0003\u0004') ? undefined : 'is no ZIP archive, as a 3MF file is.';
    case '.obj':
      return text.includes('\u0000') ? 'contains binary data; an OBJ file is text.' : undefined;
    default:
      return `has an ending that is not read. Meshes may be ${MESH_ENDINGS.join(', ')}.`;
  }
}

function latin1(head: Uint8Array): string {
  let text = '';
  for (const byte of head.subarray(0, HEADER_BYTES)) text += String.fromCharCode(byte);
  return text;
}

const view = (head: Uint8Array): DataView => new DataView(head.buffer, head.byteOffset, head.byteLength);

function stlProblem(head: Uint8Array, text: string, size: number): string | undefined {
  const claimed = head.length >= 84 ? view(head).getUint32(80, true) : undefined;
  if (claimed !== undefined && size === 84 + 50 * claimed)
    return claimed === 0 ? 'contains no triangle.' : undefined;
  if (/^\s*solid/i.test(text) && !text.includes('\u0000')) {
    return /facet|endsolid/i.test(text) || size > HEADER_BYTES
      ? undefined
      : 'starts with "solid" but contains no facet.';
  }
  if (claimed === undefined) return `has ${size} bytes; an STL file has at least 84.`;
  const needed = 84 + 50 * claimed;
  if (size < needed) {
    return `claims ${claimed} triangles, which need ${fixed(needed, 0)} bytes, but has ${size}. It is cut short or no STL file: export it again.`;
  }
  return claimed === 0 ? 'contains no triangle.' : undefined;
}

function glbProblem(head: Uint8Array, text: string, size: number): string | undefined {
  if (!text.startsWith('glTF') || head.length < 12)
    return 'does not start with "glTF", as a binary glTF file does.';
  const version = view(head).getUint32(4, true);
  if (version !== 2) return `is glTF version ${version}; version 2 is read.`;
  const length = view(head).getUint32(8, true);
  return length > size
    ? `claims ${length} bytes but has ${size}. It is cut short: export it again.`
    : undefined;
}

function labelProblem(head: Uint8Array, text: string, ending: string | undefined): string | undefined {
  const isDicom = text.slice(128, 132) === 'DICM';
  switch (ending) {
    case '.nii.gz':
      return head[0] === 0x1f && head[1] === 0x8b
        ? undefined
        : 'is not compressed with gzip, as its ending says.';
    case '.nii': {
      if (head.length < 348) return 'is shorter than a NIfTI header of 348 bytes.';
      const sizes = [view(head).getInt32(0, true), view(head).getInt32(0, false)];
      return sizes.some((s) => s === 348 || s === 540) ? undefined : 'has no NIfTI header.';
    }
    case '.nrrd':
      return /^NRRD000[1-5]\r?\n/.test(text)
        ? undefined
        : 'does not start with "NRRD0004" or the like, as an NRRD file does.';
    case '.dcm':
      return isDicom ? undefined : 'has no "DICM" at byte 128, as a DICOM file does.';
    default:
      return isDicom
        ? undefined
        : `has an ending that is not read. Label maps may be ${LABEL_ENDINGS.join(', ')}.`;
  }
}
