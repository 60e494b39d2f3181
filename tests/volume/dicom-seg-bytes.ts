import dcmjs from 'dcmjs';
import type { LabelVolume } from './label-volume.js';

const text = (vr: string, ...values: (string | number)[]) => ({ vr, Value: values });
const sequence = (...items: Record<string, unknown>[]) => ({ vr: 'SQ', Value: items });
const decimal = (...values: number[]) => text('DS', ...values.map((v) => String(Math.round(v * 1e6) / 1e6)));

export interface SegOptions {
  fractional?: boolean;
  /** Pixels are segment numbers, of this many bits; the padding value, and with it the background, is 0 or as given. */
  labelMap?: { bits: 8 | 16; background?: number };
  sopClass?: string;
  transferSyntax?: string;
}

/**
 * The volume as a DICOM segmentation object (PS3.3 A.51), written by dcmjs: binary, a frame for each slice where a segment
 * has voxels, so that frames are missing as in scanners' exports; the patient's name is one that must never come back.
 */
export function segOf(
  volume: LabelVolume,
  names: ReadonlyMap<string, number>,
  options: SegOptions = {},
): Uint8Array {
  if (options.labelMap) return labelMapSegOf(volume, names, options.labelMap);
  const [nx, ny, nz] = volume.sizes;
  const frames: { label: number; k: number }[] = [];
  const bits: boolean[] = [];
  for (const label of names.values())
    for (let k = 0; k < nz; k++) {
      const slice = volume.labels.subarray(k * nx * ny, (k + 1) * nx * ny);
      if (!slice.includes(label)) continue;
      frames.push({ label, k });
      for (const value of slice) bits.push(value === label);
    }
  const pixels = options.fractional
    ? Uint8Array.from(bits, (b) => (b ? 200 : 90))
    : new Uint8Array(2 * Math.ceil(bits.length / 16));
  if (!options.fractional)
    bits.forEach((b, i) => {
      if (b) pixels[i >> 3] |= 1 << (i & 7);
    });
  const even = pixels.length % 2 === 0 ? pixels : Uint8Array.from([...pixels, 0]);
  return written(
    volume,
    names,
    {
      sopClass: options.sopClass ?? '1.2.840.10008.5.1.4.1.1.66.4',
      transferSyntax: options.transferSyntax,
      bits: options.fractional ? 8 : 1,
      highBit: options.fractional ? 7 : 0,
      type: options.fractional ? 'FRACTIONAL' : 'BINARY',
      more: options.fractional ? { '0062000E': text('US', 255) } : {},
    },
    frames,
    even,
  );
}

interface SegKind {
  sopClass: string;
  transferSyntax?: string;
  bits: number;
  highBit: number;
  type: string;
  /** Elements of this kind only. */
  more: Record<string, unknown>;
}

/** The object around its pixels: header, segments, and a position for each frame, with the segment where a frame shows one. */
function written(
  volume: LabelVolume,
  names: ReadonlyMap<string, number>,
  { sopClass, transferSyntax = '1.2.840.10008.1.2.1', bits, highBit, type, more }: SegKind,
  frames: readonly { label?: number; k: number }[],
  pixels: Uint8Array,
): Uint8Array {
  const [nx, ny] = volume.sizes;
  const file = new dcmjs.data.DicomDict({
    '00020001': { vr: 'OB', Value: [Uint8Array.of(0, 1).buffer] },
    '00020002': text('UI', sopClass),
    '00020003': text('UI', '2.25.1'),
    '00020010': text('UI', transferSyntax),
    '00020012': text('UI', '2.25.2'),
  });
  file.dict = {
    '00080005': text('CS', 'ISO_IR 192'),
    '00080016': text('UI', sopClass),
    '00080018': text('UI', '2.25.1'),
    '00080060': text('CS', 'SEG'),
    '00100010': text('PN', 'SECRET^NAME'),
    '00280002': text('US', 1),
    '00280008': text('IS', String(frames.length)),
    '00280010': text('US', ny),
    '00280011': text('US', nx),
    '00280100': text('US', bits),
    '00280101': text('US', bits),
    '00280102': text('US', highBit),
    '00280103': text('US', 0),
    '00620001': text('CS', type),
    ...more,
    '00620002': sequence(
      ...[...names].map(([name, number]) => ({
        '00620004': text('US', number),
        '00620005': text('LO', name),
      })),
    ),
    '52009229': sequence({
      '00209116': sequence({ '00200037': decimal(1, 0, 0, 0, 1, 0) }),
      '00289110': sequence({
        '00180050': decimal(volume.spacing[2]),
        '00280030': decimal(volume.spacing[1], volume.spacing[0]),
      }),
    }),
    '52009230': sequence(
      ...frames.map(({ label, k }) => ({
        ...(label !== undefined && { '0062000A': sequence({ '0062000B': text('US', label) }) }),
        '00209113': sequence({
          '00200032': decimal(volume.origin[0], volume.origin[1], volume.origin[2] + k * volume.spacing[2]),
        }),
      })),
    ),
    '7FE00010': { vr: bits === 16 ? 'OW' : 'OB', Value: [pixels.buffer as ArrayBuffer] },
  } as never;
  return new Uint8Array(file.write());
}

/** The volume as a label map segmentation object (DICOM Supplement 243): one frame per slice, each pixel a segment number. */
function labelMapSegOf(
  volume: LabelVolume,
  names: ReadonlyMap<string, number>,
  { bits, background = 0 }: NonNullable<SegOptions['labelMap']>,
): Uint8Array {
  const values = Array.from(volume.labels, (label) => (label === 0 ? background : label));
  const pixels = bits === 8 ? Uint8Array.from(values) : Uint16Array.from(values);
  const bytes = new Uint8Array(pixels.buffer);
  const even = bytes.length % 2 === 0 ? bytes : Uint8Array.from([...bytes, background]);
  return written(
    volume,
    names,
    {
      sopClass: '1.2.840.10008.5.1.4.1.1.66.7',
      bits,
      highBit: bits - 1,
      type: 'LABELMAP',
      more: { '00280120': text('US', background) },
    },
    Array.from({ length: volume.sizes[2] }, (_, k) => ({ k })),
    even,
  );
}
