import { refuse } from '../read/mesh-file.js';

/** Header facts of a label map or another volume, without its free texts (see `file-texts.ts`). */
export interface VolumeFacts {
  format: 'NIfTI-1' | 'NIfTI-2' | 'NRRD';
  /** Voxels along each axis. */
  sizes: number[];
  /** mm along each axis, if stated. */
  spacingMm?: number[];
  dataType: string;
  notes: string[];
}

/** Data types of the NIfTI header by number (nifti1.h). */
export const NIFTI_TYPES: Readonly<Record<number, string>> = {
  2: 'uint8',
  4: 'int16',
  8: 'int32',
  16: 'float32',
  64: 'float64',
  256: 'int8',
  512: 'uint16',
  768: 'uint32',
  1024: 'int64',
  1280: 'uint64',
};
/** Spatial units of the NIfTI header (xyzt_units, lowest three bits), mm; 0 is unknown. */
export const NIFTI_UNITS: Readonly<Record<number, number>> = { 1: 1000, 2: 1, 3: 0.001 };

/** Facts of a NIfTI or NRRD volume from its first bytes (at least 1 KiB, unpacked); undefined if it is neither. */
export function volumeFacts(start: Uint8Array, file: string): VolumeFacts | undefined {
  const ascii = new TextDecoder('latin1').decode(start.subarray(0, 8));
  if (ascii.startsWith('NRRD000')) return nrrdFacts(start, file);
  if (start.length < 348) return undefined;
  const view = new DataView(start.buffer, start.byteOffset, start.byteLength);
  for (const little of [true, false]) {
    const size = view.getInt32(0, little);
    const magic = new TextDecoder('latin1').decode(start.subarray(344, 347));
    if (size === 348 && (magic === 'n+1' || magic === 'ni1')) return nifti1(view, little, file);
    if (size === 540 && ascii.slice(4, 7) === 'n+2' && start.length >= 540) return nifti2(view, little, file);
  }
  return undefined;
}

function nifti1(view: DataView, little: boolean, file: string): VolumeFacts {
  const rank = checkedRank(view.getInt16(40, little), file);
  const axes = Array.from({ length: rank }, (_, i) => i + 1);
  return nifti(
    'NIfTI-1',
    axes.map((i) => view.getInt16(40 + 2 * i, little)),
    axes.map((i) => view.getFloat32(76 + 4 * i, little)),
    view.getInt16(70, little),
    view.getUint8(123) & 7,
  );
}

function nifti2(view: DataView, little: boolean, file: string): VolumeFacts {
  const rank = checkedRank(Number(view.getBigInt64(16, little)), file);
  const axes = Array.from({ length: rank }, (_, i) => i + 1);
  return nifti(
    'NIfTI-2',
    axes.map((i) => Number(view.getBigInt64(16 + 8 * i, little))),
    axes.map((i) => view.getFloat64(104 + 8 * i, little)),
    view.getInt16(12, little),
    view.getInt32(500, little) & 7,
  );
}

function nifti(
  format: VolumeFacts['format'],
  sizes: number[],
  spacing: number[],
  type: number,
  unit: number,
): VolumeFacts {
  const facts: VolumeFacts = { format, sizes, dataType: NIFTI_TYPES[type] ?? `type ${type}`, notes: [] };
  const factor = NIFTI_UNITS[unit];
  const spatial = spacing.slice(0, 3).map(Math.abs);
  if (!factor) facts.notes.push('The header states no unit of length; mm is usual.');
  if (spatial.every((s) => Number.isFinite(s) && s > 0))
    facts.spacingMm = spatial.map((s) => s * (factor ?? 1));
  return facts;
}

function checkedRank(rank: number, file: string): number {
  if (rank < 1 || rank > 7)
    refuse(file, 'NIfTI header', `${rank} axes are not possible`, 'Export the volume again');
  return rank;
}

function nrrdFacts(start: Uint8Array, file: string): VolumeFacts {
  const text = new TextDecoder('latin1').decode(start);
  const header = text.split(/\r?\n\r?\n/, 1)[0];
  const fields = new Map<string, string>();
  for (const line of header.split(/\r?\n/).slice(1)) {
    const match = /^([a-z ]+): (.*)$/i.exec(line);
    if (match) fields.set(match[1].toLowerCase(), match[2].trim());
  }
  const sizes = (fields.get('sizes') ?? '').split(/\s+/).map(Number);
  if (sizes.length === 0 || sizes.length > 16 || !sizes.every((n) => Number.isInteger(n) && n > 0)) {
    refuse(file, 'NRRD header', 'it has no usable line "sizes"', 'Export the volume again');
  }
  const type = fields.get('type') ?? '';
  const facts: VolumeFacts = {
    format: 'NRRD',
    sizes,
    dataType: /^[a-z0-9_ ]{1,30}$/i.test(type) ? type : 'not stated',
    notes: [],
  };
  const directions = fields.get('space directions');
  const spacing = directions
    ? [...directions.matchAll(/\(([^)]{1,200})\)/g)].map((m) => Math.hypot(...m[1].split(',').map(Number)))
    : (fields.get('spacings') ?? '').split(/\s+/).map(Number);
  if (spacing.length > 0 && spacing.every((s) => Number.isFinite(s) && s > 0)) facts.spacingMm = spacing;
  return facts;
}
