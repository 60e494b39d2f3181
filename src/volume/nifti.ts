import { refuse } from '../mesh/read/mesh-file.js';
import { NIFTI_TYPES, NIFTI_UNITS } from '../mesh/recognise/label-map-facts.js';
import { checkAxes, checkSizes, type VoxelGrid } from './label-map.js';
import { isVoxelType, type VoxelFormat } from './voxel-reader.js';

/** A NIfTI-1 or NIfTI-2 header (nifti1.h, 2007; nifti2.h, 2011), as far as a label map needs it. */
export interface NiftiHeader {
  grid: VoxelGrid;
  format: VoxelFormat;
  /** Offset of the voxels, bytes. */
  offset: number;
  /** Scaling of stored values: slope · value + inter; 1 and 0 in a label map. */
  slope: number;
  inter: number;
}

/** Bytes of the longer header plus the four extension bytes after it. */
export const NIFTI_HEADER_BYTES = 544;

/** Reads the fields common to both header versions, each at its offset. */
interface Fields {
  rank: number;
  dims: number[];
  type: number;
  steps: number[];
  offset: number;
  slope: number;
  inter: number;
  qform: number;
  sform: number;
  quaternion: number[];
  shift: number[];
  rows: number[][];
  units: number;
}

/**
 * The header in the first bytes of an unpacked file; `unitMm` is used if the file states no unit. Scaled values are rejected unless
 * `mayScale`: labels must not be scaled, since they are not quantities.
 */
export function niftiHeader(start: Uint8Array, file: string, unitMm: number, mayScale = false): NiftiHeader {
  if (start.length < 348)
    refuse(file, 'NIfTI header', 'it is damaged or cut off', 'Export the label map again');
  const view = new DataView(start.buffer, start.byteOffset, start.byteLength);
  const fields = fieldsOf(view, file);
  if (fields.rank < 1 || fields.rank > 7)
    refuse(file, 'NIfTI header', `${fields.rank} axes are not possible`, 'Export the label map again');
  const sizes = checkSizes(fields.dims.slice(0, fields.rank), file);
  const type = NIFTI_TYPES[fields.type];
  if (type === undefined || !isVoxelType(type))
    return refuse(
      file,
      'NIfTI header',
      `data type ${fields.type} contains no labels`,
      'Export the label map as whole numbers of 8, 16 or 32 bits',
    );
  const isScaled = Number.isFinite(fields.slope) && fields.slope !== 0;
  const slope = isScaled ? fields.slope : 1;
  const inter = isScaled && Number.isFinite(fields.inter) ? fields.inter : 0;
  if (!mayScale && (slope !== 1 || inter !== 0))
    refuse(file, 'NIfTI header', 'its values are scaled', 'Export the label map without scaling');
  if (!Number.isInteger(fields.offset) || fields.offset < 0 || fields.offset > 2 ** 24)
    refuse(
      file,
      'NIfTI header',
      `voxels at byte ${fields.offset} are not possible`,
      'Export the label map again',
    );
  return {
    grid: checkAxes({ sizes, ...placeOf(fields, unitMm) }, file),
    format: { type, isLittle: isLittle(view) },
    offset: fields.offset,
    slope,
    inter,
  };
}

const isLittle = (view: DataView): boolean => [348, 540].includes(view.getInt32(0, true));

function fieldsOf(view: DataView, file: string): Fields {
  const little = isLittle(view);
  const size = view.getInt32(0, little);
  const range = (n: number) => Array.from({ length: n }, (_, i) => i);
  if (size === 348) {
    if (view.getUint8(345) !== 0x2b)
      refuse(file, 'NIfTI header', 'header and voxels are in two files', 'Export one file (.nii or .nii.gz)');
    const f32 = (at: number) => view.getFloat32(at, little);
    return {
      rank: view.getInt16(40, little),
      dims: range(7).map((i) => view.getInt16(42 + 2 * i, little)),
      type: view.getInt16(70, little),
      steps: range(8).map((i) => f32(76 + 4 * i)),
      offset: f32(108),
      slope: f32(112),
      inter: f32(116),
      qform: view.getInt16(252, little),
      sform: view.getInt16(254, little),
      quaternion: range(3).map((i) => f32(256 + 4 * i)),
      shift: range(3).map((i) => f32(268 + 4 * i)),
      rows: range(3).map((r) => range(4).map((c) => f32(280 + 16 * r + 4 * c))),
      units: view.getUint8(123) & 7,
    };
  }
  if (size === 540 && view.byteLength >= 540) {
    const f64 = (at: number) => view.getFloat64(at, little);
    const i64 = (at: number) => Number(view.getBigInt64(at, little));
    return {
      rank: i64(16),
      dims: range(7).map((i) => i64(24 + 8 * i)),
      type: view.getInt16(12, little),
      steps: range(8).map((i) => f64(104 + 8 * i)),
      offset: i64(168),
      slope: f64(176),
      inter: f64(184),
      qform: view.getInt32(344, little),
      sform: view.getInt32(348, little),
      quaternion: range(3).map((i) => f64(352 + 8 * i)),
      shift: range(3).map((i) => f64(376 + 8 * i)),
      rows: range(3).map((r) => range(4).map((c) => f64(400 + 32 * r + 8 * c))),
      units: view.getInt32(500, little) & 7,
    };
  }
  return refuse(file, 'NIfTI header', 'it is damaged or cut off', 'Export the label map again');
}

/** Axes and origin in LPS mm: sform before qform before the bare steps, as the standard orders them. NIfTI itself is RAS. */
function placeOf(fields: Fields, unitMm: number): Omit<VoxelGrid, 'sizes'> {
  const notes: string[] = [];
  const factor = NIFTI_UNITS[fields.units] ?? unitMm;
  if (!NIFTI_UNITS[fields.units])
    notes.push('The file states no unit of length; the unit of the case was used.');
  const lps = (p: readonly number[]): [number, number, number] => [
    -p[0] * factor,
    -p[1] * factor,
    p[2] * factor,
  ];
  if (fields.sform > 0) {
    const column = (c: number) => fields.rows.map((row) => row[c]);
    return { origin: lps(column(3)), axes: [0, 1, 2].map((c) => lps(column(c))), isOriented: true, notes };
  }
  const steps = fields.steps.slice(1, 4).map((s) => Math.abs(s) || 1);
  if (fields.qform > 0) {
    const turn = rotationOf(fields.quaternion);
    const hand = fields.steps[0] < 0 ? -1 : 1;
    const axes = [0, 1, 2].map((c) => lps(turn.map((row) => row[c] * steps[c] * (c === 2 ? hand : 1))));
    return { origin: lps(fields.shift), axes, isOriented: true, notes };
  }
  notes.push('The file does not state its patient axes.');
  const axes = [0, 1, 2].map(
    (c) => [0, 1, 2].map((k) => (k === c ? steps[c] * factor : 0)) as [number, number, number],
  );
  return { origin: [0, 0, 0], axes, isOriented: false, notes };
}

/** Rotation from the last three parts of a unit quaternion (nifti1.h, method 2). */
function rotationOf([b, c, d]: readonly number[]): number[][] {
  const square = b * b + c * c + d * d;
  const norm = square > 1 ? 1 / Math.sqrt(square) : 1;
  const [x, y, z] = [b * norm, c * norm, d * norm];
  const w = Math.sqrt(Math.max(0, 1 - (x * x + y * y + z * z)));
  return [
    [w * w + x * x - y * y - z * z, 2 * (x * y - w * z), 2 * (x * z + w * y)],
    [2 * (x * y + w * z), w * w + y * y - x * x - z * z, 2 * (y * z - w * x)],
    [2 * (x * z - w * y), 2 * (y * z + w * x), w * w + z * z - x * x - y * y],
  ];
}
