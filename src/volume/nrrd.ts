import { refuse } from '../mesh/read/mesh-file.js';
import { checkAxes, checkSizes, type VoxelGrid } from './label-map.js';
import type { VoxelFormat } from './voxel-reader.js';

/** An NRRD header (teem.sourceforge.net/nrrd/format.html), as far as a label map needs it. */
export interface NrrdHeader {
  grid: VoxelGrid;
  format: VoxelFormat;
  /** Labels by name, from lines `label N:=NAME`, as this program writes them. */
  names: ReadonlyMap<string, number>;
  isPacked: boolean;
  /** Offset of the voxels in the file, bytes. */
  offset: number;
}

const TYPES: Record<string, VoxelFormat['type']> = {
  'signed char': 'int8',
  int8: 'int8',
  int8_t: 'int8',
  uchar: 'uint8',
  'unsigned char': 'uint8',
  uint8: 'uint8',
  uint8_t: 'uint8',
  short: 'int16',
  'short int': 'int16',
  'signed short': 'int16',
  'signed short int': 'int16',
  int16: 'int16',
  int16_t: 'int16',
  ushort: 'uint16',
  'unsigned short': 'uint16',
  'unsigned short int': 'uint16',
  uint16: 'uint16',
  uint16_t: 'uint16',
  int: 'int32',
  'signed int': 'int32',
  int32: 'int32',
  int32_t: 'int32',
  uint: 'uint32',
  'unsigned int': 'uint32',
  uint32: 'uint32',
  uint32_t: 'uint32',
  float: 'float32',
  double: 'float64',
};
/** Signs that convert a space of the standard to left-posterior-superior. */
const SPACES: Record<string, [number, number]> = {
  'left-posterior-superior': [1, 1],
  lps: [1, 1],
  'right-anterior-superior': [-1, -1],
  ras: [-1, -1],
  'left-anterior-superior': [1, -1],
  las: [1, -1],
};
/** Largest header, bytes. */
export const NRRD_HEADER_BYTES = 65536;

/** The header in the first bytes of a file; lengths are in `unitMm` if the file states no unit. */
export function nrrdHeader(start: Uint8Array, file: string, unitMm: number): NrrdHeader {
  const bad = (what: string, todo = 'Export the label map again'): never =>
    refuse(file, 'NRRD header', what, todo);
  const text = new TextDecoder('latin1').decode(start.subarray(0, NRRD_HEADER_BYTES));
  const end = /\r?\n\r?\n/.exec(text);
  const header = end ? text.slice(0, end.index) : text;
  const fields = new Map<string, string>();
  const names = new Map<string, number>();
  for (const line of header.split(/\r?\n/).slice(1)) {
    const match = /^([^:=#]+): (.*)$/.exec(line);
    if (match) fields.set(match[1].trim().toLowerCase(), match[2].trim());
    const label = /^label (\d{1,10}):=(.+)$/.exec(line);
    if (label) names.set(label[2].trim(), Number(label[1]));
  }
  if (fields.has('data file') || fields.has('datafile'))
    bad('header and voxels are in several files', 'Export one file (.nrrd)');
  if (!end) return bad('it has no end');
  for (const field of ['line skip', 'byte skip'])
    if (Number(fields.get(field) ?? 0) !== 0) bad(`"${field}" is not read`);
  const numbers = (field: string): number[] =>
    (fields.get(field) ?? '').split(/\s+/).filter(Boolean).map(Number);
  const sizes = checkSizes(numbers('sizes'), file);
  const type = TYPES[(fields.get('type') ?? '').toLowerCase()];
  if (!type)
    return bad(
      `its type is not one that contains labels`,
      'Export the label map as whole numbers of 8, 16 or 32 bits',
    );
  const encoding = (fields.get('encoding') ?? '').toLowerCase();
  if (!['raw', 'gzip', 'gz'].includes(encoding))
    bad('its encoding is not read', 'Export it raw or with gzip');
  return {
    grid: checkAxes({ sizes, ...placeOf(fields, file, unitMm) }, file),
    format: { type, isLittle: (fields.get('endian') ?? 'little').toLowerCase() === 'little' },
    names,
    isPacked: encoding !== 'raw',
    offset: end.index + end[0].length,
  };
}

function placeOf(
  fields: ReadonlyMap<string, string>,
  file: string,
  unitMm: number,
): Omit<VoxelGrid, 'sizes'> {
  const notes: string[] = [];
  const units = [...(fields.get('space units') ?? '').matchAll(/"([^"]*)"/g)].map((m) => m[1].toLowerCase());
  const factor = units.length > 0 && units.every((u) => u === 'mm') ? 1 : unitMm;
  const vectors = (field: string): [number, number, number][] =>
    [...(fields.get(field) ?? '').matchAll(/\(([^)]{1,200})\)/g)].map(
      (m) => m[1].split(',').map((n) => Number(n) * factor) as [number, number, number],
    );
  const signs = SPACES[(fields.get('space') ?? '').toLowerCase()];
  const turned = ([x, y, z]: [number, number, number]): [number, number, number] =>
    signs ? [x * signs[0], y * signs[1], z] : [x, y, z];
  const axes = vectors('space directions').map(turned);
  if (!signs) notes.push('The file does not state its patient axes.');
  if (axes.length === 3 && axes.every((axis) => axis.length === 3)) {
    const origin = vectors('space origin').map(turned)[0] ?? [0, 0, 0];
    return { origin, axes, isOriented: signs !== undefined, notes };
  }
  const steps = (fields.get('spacings') ?? '').split(/\s+/).filter(Boolean).map(Number);
  if (steps.length < 3)
    refuse(
      file,
      'NRRD header',
      'it does not state the size of its voxels',
      'Export it with space directions',
    );
  const along = [0, 1, 2].map((c) => [0, 1, 2].map((k) => (k === c ? steps[c] * factor : 0))) as [
    number,
    number,
    number,
  ][];
  return { origin: [0, 0, 0], axes: along, isOriented: false, notes };
}
