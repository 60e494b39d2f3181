import type { MeshFormat } from '../read/mesh-file.js';
import type { FileText } from './identity.js';

const latin1 = (bytes: Uint8Array): string => new TextDecoder('latin1').decode(bytes);
const plain = (bytes: Uint8Array): string => latin1(bytes).split('\0', 1)[0].trim();
/** The default STL header of this program. */
const OWN_HEADER = 'binary STL, unit mm, pavm-planner';

/** Texts other than geometry in the first bytes of a mesh file: header, comments, names. Those of a 3MF are compressed. */
export function meshTexts(start: Uint8Array, format: MeshFormat | 'label-map'): FileText[] {
  switch (format) {
    case 'stl-binary': {
      const text = plain(start.subarray(0, 80));
      return text === OWN_HEADER ? [] : [{ field: 'STL header', text }];
    }
    case 'ply':
      return linesOf(start, /^(?:comment|obj_info)\b(.*)$/gm, 'PLY comments');
    case 'obj':
      return linesOf(start, /^[ \t]*#+(.*)$/gm, 'OBJ comments');
    case 'gltf':
    case 'glb': {
      const text = latin1(start).replace(/data:[^"]*/g, '');
      return [...text.matchAll(/"(?:copyright|extras)"\s*:\s*(\{[^}]*\}|"[^"]*")/g)].map((match) => ({
        field: 'glTF extras',
        text: match[1].replace(/["{}]/g, ' '),
      }));
    }
    default:
      return [];
  }
}

function linesOf(start: Uint8Array, pattern: RegExp, field: string): FileText[] {
  const text = latin1(start).replace(/\r\n?/g, '\n');
  const head = field === 'PLY comments' ? text.split(/^end_header\b/m, 1)[0] : text;
  return [...head.matchAll(pattern)].map((match) => ({ field, text: match[1].trim() }));
}

/** The free texts in the header of a NIfTI or NRRD file, from its first bytes, unpacked (nifti1.h, nifti2.h; NRRD, section 4). */
export function volumeTexts(start: Uint8Array): FileText[] {
  if (latin1(start.subarray(0, 7)) === 'NRRD000') return nrrdTexts(start);
  const view = new DataView(start.buffer, start.byteOffset, start.byteLength);
  const isTwo = view.getInt32(0, true) === 540 || view.getInt32(0, false) === 540;
  const little = view.getInt32(0, true) === (isTwo ? 540 : 348);
  const field = (name: string, at: number, length: number): FileText => ({
    field: `NIfTI ${name}`,
    text: plain(start.subarray(at, at + length)),
  });
  const texts = isTwo
    ? [field('descrip', 240, 80), field('aux_file', 320, 24), field('intent_name', 508, 16)]
    : [
        field('descrip', 148, 80),
        field('aux_file', 228, 24),
        field('intent_name', 328, 16),
        field('db_name', 14, 18),
      ];
  return [...texts, ...niftiExtensions(start, view, isTwo ? 540 : 348, little)];
}

/** Code of an extension with DICOM attributes (nifti1_io.h). */
const DICOM_EXTENSION = 2;

function niftiExtensions(start: Uint8Array, view: DataView, end: number, little: boolean): FileText[] {
  const texts: FileText[] = [];
  if (start.length < end + 12 || start[end] === 0) return texts;
  for (let at = end + 4; at + 8 <= start.length && texts.length < 100; ) {
    const size = view.getInt32(at, little);
    const code = view.getInt32(at + 4, little);
    if (size < 16 || size % 16 !== 0) break;
    // only printable runs, since an extension with DICOM attributes is binary
    const text = latin1(start.subarray(at + 8, at + size)).replace(/[^\x20-\x7e\u00a0-\u00ff]+/g, ' ');
    texts.push({
      field: code === DICOM_EXTENSION ? 'NIfTI extension with DICOM attributes' : 'NIfTI extension',
      text,
    });
    at += size;
  }
  return texts;
}

function nrrdTexts(start: Uint8Array): FileText[] {
  const header = latin1(start).split(/\r?\n\r?\n/, 1)[0];
  return header.split(/\r?\n/).flatMap((line): FileText[] => {
    const comment = /^#+(.*)$/.exec(line);
    if (comment) return [{ field: 'NRRD comments', text: comment[1].trim() }];
    const content = /^content:\s*(.*)$/i.exec(line);
    if (content) return [{ field: 'NRRD content', text: content[1] }];
    // names of segments are listed with the labels
    const pair = /^([^:]+:=.*)$/.exec(line);
    return pair ? [{ field: 'NRRD key/value pairs', text: pair[1] }] : [];
  });
}
