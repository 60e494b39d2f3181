import { quoted } from '../../foundation/quoted-text.js';
import { EXPORT_AGAIN, refuse } from './mesh-file.js';

export type PlyType = 'int8' | 'uint8' | 'int16' | 'uint16' | 'int32' | 'uint32' | 'float32' | 'float64';
export const PLY_TYPE_BYTES: Record<PlyType, number> = {
  int8: 1,
  uint8: 1,
  int16: 2,
  uint16: 2,
  int32: 4,
  uint32: 4,
  float32: 4,
  float64: 8,
};
const TYPE_NAMES: Record<string, PlyType> = {
  char: 'int8',
  uchar: 'uint8',
  short: 'int16',
  ushort: 'uint16',
  int: 'int32',
  uint: 'uint32',
  float: 'float32',
  double: 'float64',
  int8: 'int8',
  uint8: 'uint8',
  int16: 'int16',
  uint16: 'uint16',
  int32: 'int32',
  uint32: 'uint32',
  float32: 'float32',
  float64: 'float64',
};

export interface PlyProperty {
  name: string;
  type: PlyType;
  /** Type of the count before a list. */
  countType?: PlyType;
}

export interface PlyElement {
  name: string;
  count: number;
  properties: PlyProperty[];
}

export interface PlyHeader {
  encoding: 'ascii' | 'little' | 'big';
  elements: PlyElement[];
  /** First byte after the header, and its line. */
  bodyOffset: number;
  bodyLine: number;
}

const LONGEST_HEADER = 65_536;

/** Header of a PLY file up to 64 KiB; every line is checked and located. */
export function readPlyHeader(bytes: Uint8Array, file: string): PlyHeader {
  const text = new TextDecoder('latin1').decode(bytes.subarray(0, LONGEST_HEADER));
  const end = /(^|\n)end_header[ \t]*(\r\n|\n|\r)/.exec(text);
  if (!end) refuse(file, 'header', 'it has no line "end_header"', EXPORT_AGAIN);
  const bodyOffset = end.index + end[0].length;
  const lines = text.slice(0, bodyOffset).split(/\r\n|\n|\r/);
  const elements: PlyElement[] = [];
  let encoding: PlyHeader['encoding'] | undefined;
  for (const [i, line] of lines.entries()) {
    const words = line.trim().split(/\s+/);
    const bad = (what: string): never => refuse(file, `line ${i + 1}`, what, EXPORT_AGAIN);
    switch (words[0]) {
      case 'ply':
      case '':
      case 'comment':
      case 'obj_info':
      case 'end_header':
        break;
      case 'format':
        if (words[1] === 'ascii') encoding = 'ascii';
        else if (words[1] === 'binary_little_endian') encoding = 'little';
        else if (words[1] === 'binary_big_endian') encoding = 'big';
        else bad(`the format ${quoted(words[1] ?? '')} is not known`);
        if (words[2] !== '1.0') bad(`the version ${quoted(words[2] ?? '')} is not 1.0`);
        break;
      case 'element': {
        if (!/^\d{1,10}$/.test(words[2] ?? '')) bad(`the count ${quoted(words[2] ?? '')} is not a number`);
        elements.push({ name: words[1], count: Number(words[2]), properties: [] });
        break;
      }
      case 'property': {
        const element = elements[elements.length - 1];
        if (!element) bad('a property before the first element');
        const isList = words[1] === 'list';
        const type = TYPE_NAMES[words[isList ? 3 : 1]];
        const countType = isList ? TYPE_NAMES[words[2]] : undefined;
        const name = words[isList ? 4 : 2];
        if (!type || (isList && !countType) || !name) bad(`${quoted(line)} is not a property`);
        if (countType?.startsWith('float')) bad('the count of a list cannot be a float');
        element.properties.push({ name, type, ...(countType ? { countType } : {}) });
        break;
      }
      default:
        bad(`${quoted(words[0])} is not a statement of a PLY header`);
    }
  }
  if (!encoding) refuse(file, 'header', 'it has no line "format"', EXPORT_AGAIN);
  return { encoding, elements, bodyOffset, bodyLine: lines.length };
}
