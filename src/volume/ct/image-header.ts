import type { DataSet } from 'dicom-parser';
import { InputFailure } from '../../foundation/failure.js';
import { cross, dot, length, type Vec3 } from '../../foundation/vector.js';
import { dicomDataSet, isDicom, readingValues } from '../../mesh/recognise/dicom-facts.js';
import { dicomIdentity, looksIdentifying } from '../../mesh/recognise/identity.js';
import type { Identity } from '../../mesh/recognise/identity-fields.js';
import { isEncapsulated, isRead, mayBeLossy, notReadBecause } from './transfer-syntax.js';

/** One file of a series, read in pieces. */
export interface SeriesFile {
  bytes: number;
  /** The bytes from `offset`, at most `length`. */
  read(offset: number, length: number): Promise<Uint8Array>;
}

/** Storage of an object's pixels. */
export interface PixelFormat {
  syntax: string;
  bitsAllocated: number;
  bitsStored: number;
  isSigned: boolean;
  /** Offset and length of the pixel data in a file that is not deflated; `length` is undefined if they are encapsulated. */
  offset: number;
  length?: number;
}

/** One slice: a frame of an object, with the values of its header. Lengths mm, positions LPS. */
export interface SliceHeader {
  /** Number of its file by order of names, from 0. */
  file: number;
  frame: number;
  rows: number;
  columns: number;
  /** Centre of the first pixel. */
  positionMm: Vec3;
  /** Unit directions of increasing column and row numbers. */
  along: Vec3;
  down: Vec3;
  /** Distance between rows, then between columns. */
  rowSpacingMm: number;
  columnSpacingMm: number;
  thicknessMm?: number;
  slope: number;
  intercept: number;
  pixels: PixelFormat;
}

/** Header values of an object that describe the whole series. None identifies anybody. */
export interface SeriesFacts {
  seriesNumber?: number;
  /** ISO date. */
  date?: string;
  kernel?: string;
  kilovolts?: number;
  contrast: 'yes' | 'no' | 'unknown';
  /** Code of DICOM C.7.3.1.1.2, for example HFS. */
  patientPosition?: string;
  /** Degrees, from the header. */
  gantryTiltDeg?: number;
  isLossy: boolean;
  /** Other than Hounsfield units. */
  hasOtherUnits: boolean;
}

/** An object with images of a CT series. */
export interface CtObject {
  kind: 'ct';
  /** Distinguish series and frames of reference; never shown. */
  seriesKey: string;
  frameOfReference: string;
  facts: SeriesFacts;
  identity: Identity;
  slices: SliceHeader[];
  frames: number;
  file: number;
}

/** A DICOM object that is not a CT image, by its modality; a localiser counts as such. */
export interface OtherObject {
  kind: 'other';
  modality: string;
  identity: Identity;
}

/** A CT image or DICOM file that cannot be used, and why, as the end of a sentence. */
export interface BadObject {
  kind: 'bad';
  problem: string;
  todo: string;
  /** The position of its slice, if given. */
  positionMm?: Vec3;
  file: number;
}

export type DicomObject = CtObject | OtherObject | BadObject;

const CT_CLASSES = new Set([
  '1.2.840.10008.5.1.4.1.1.2',
  '1.2.840.10008.5.1.4.1.1.2.1',
  '1.2.840.10008.5.1.4.1.1.2.2',
]);
const DEFLATED = '1.2.840.10008.1.2.1.99';
/** Number of first bytes read; a longer header is read again with the next. */
const HEADER_STEPS = [2 ** 16, 2 ** 21, 2 ** 30];
/** More frames than slices are allowed. */
const MOST_FRAMES = 2000;
const LARGEST_SIDE = 1024;

/** The header of one file; undefined if it is not a DICOM file. Reads no pixels. */
export async function imageHeader(source: SeriesFile, file: number): Promise<DicomObject | undefined> {
  let bytes = await source.read(0, Math.min(HEADER_STEPS[0], source.bytes));
  if (!isDicom(bytes)) return undefined;
  const bad = (problem: string, todo: string): BadObject => ({ kind: 'bad', problem, todo, file });
  try {
    for (const step of HEADER_STEPS) {
      if (step > HEADER_STEPS[0]) bytes = await source.read(0, Math.min(step, source.bytes));
      const isWhole = bytes.length >= source.bytes;
      const data = await headerSet(bytes, isWhole);
      if (data === undefined) continue;
      return readingValues('', () => objectOf(data, source, file));
    }
    return bad('its header is damaged or cut off', 'Copy it again or export it again');
  } catch (error) {
    if (!(error instanceof InputFailure)) throw error;
    return bad('its header is damaged or cut off', 'Copy it again or export it again');
  }
}

/** The elements before the pixels; undefined if more bytes are needed to reach them. */
async function headerSet(bytes: Uint8Array, isWhole: boolean): Promise<DataSet | undefined> {
  try {
    const data = await dicomDataSet(bytes, '', 'x7fe00010');
    if (data.elements.x7fe00010 || isWhole) return data;
    const isImage = CT_CLASSES.has(text(data, 'x00080016'));
    return isImage || text(data, 'x00020010') === DEFLATED ? undefined : data;
  } catch (error) {
    if (!isWhole && error instanceof InputFailure) return undefined;
    throw error;
  }
}

const text = (data: DataSet | undefined, tag: string): string =>
  (data?.string(tag) ?? '').replace(/\0/g, '').trim();

const item = (data: DataSet | undefined, tag: string, index = 0): DataSet | undefined =>
  data?.elements[tag]?.items?.[index]?.dataSet;

function numbers(data: DataSet | undefined, tag: string, count: number): number[] | undefined {
  if (!data?.elements[tag]) return undefined;
  const values = Array.from({ length: count }, (_, k) => data.floatString(tag, k));
  return values.every((v) => v !== undefined && Number.isFinite(v)) ? (values as number[]) : undefined;
}

function objectOf(data: DataSet, source: SeriesFile, file: number): DicomObject {
  const identity = dicomIdentity(data);
  const modality = /^[A-Z]{1,16}$/.exec(text(data, 'x00080060'))?.[0] ?? 'not stated';
  if (!CT_CLASSES.has(text(data, 'x00080016'))) return { kind: 'other', modality, identity };
  if (/\\LOCALIZER\b/i.test(`\\${text(data, 'x00080008')}`))
    return { kind: 'other', modality: 'CT localiser', identity };
  if (modality !== 'CT' && modality !== 'not stated') return { kind: 'other', modality, identity };
  const shared = item(data, 'x52009229');
  const frameCount = data.elements.x00280008 ? (data.intString('x00280008') ?? Number.NaN) : 1;
  const at = numbers(data, 'x00200032', 3) as Vec3 | undefined;
  const bad = (problem: string, todo = 'Export the series again'): BadObject => ({
    kind: 'bad',
    problem,
    todo,
    ...(at && isPlace(at) && { positionMm: at }),
    file,
  });
  if (!data.elements.x7fe00010)
    return bad('it contains no pixels and may be cut off', 'Copy it again or export it again');
  if (!(Number.isInteger(frameCount) && frameCount >= 1)) return bad('it states no number of frames');
  if (frameCount > MOST_FRAMES)
    return bad(
      `${frameCount} frames are more than the ${MOST_FRAMES} that are read`,
      'Export the part about the lesion',
    );
  const [rows, columns] = [data.uint16('x00280010') ?? 0, data.uint16('x00280011') ?? 0];
  if (rows < 2 || columns < 2) return bad('it states no rows and columns');
  if (rows > LARGEST_SIDE || columns > LARGEST_SIDE)
    return bad(
      `${columns} x ${rows} pixels are more than the ${LARGEST_SIDE} x ${LARGEST_SIDE} that are read`,
      'Export the part about the lesion',
    );
  const pixels = pixelFormat(data, source, rows * columns * frameCount);
  if ('problem' in pixels) return bad(pixels.problem, pixels.todo);
  const slices: SliceHeader[] = [];
  for (let frame = 0; frame < frameCount; frame++) {
    const slice = frameHeader(data, { shared, frame, frameCount });
    if ('problem' in slice) return bad(slice.problem);
    slices.push({ file, frame, rows, columns, ...slice, pixels });
  }
  return {
    kind: 'ct',
    seriesKey: text(data, 'x0020000e'),
    frameOfReference: text(data, 'x00200052'),
    facts: factsOf(data),
    identity,
    slices,
    frames: frameCount,
    file,
  };
}

type FrameHeader = Omit<SliceHeader, 'file' | 'frame' | 'rows' | 'columns' | 'pixels'>;

/** Position and scaling of a frame, from its own group, the shared one, or the object of a single frame. */
function frameHeader(
  data: DataSet,
  { shared, frame, frameCount }: { shared: DataSet | undefined; frame: number; frameCount: number },
): FrameHeader | { problem: string } {
  const own = item(data, 'x52009230', frame);
  const group = (sequence: string): DataSet | undefined =>
    item(own, sequence) ?? item(shared, sequence) ?? (frameCount === 1 ? data : undefined);
  const place = numbers(group('x00209113'), 'x00200032', 3) as Vec3 | undefined;
  const axes = numbers(group('x00209116'), 'x00200037', 6);
  const spacing = numbers(group('x00289110'), 'x00280030', 2);
  const which = frameCount > 1 ? `frame ${frame + 1} ` : 'it ';
  if (!place || !isPlace(place)) return { problem: `${which}does not give its position (0020,0032)` };
  const directions = axes && directionsOf(axes);
  if (!directions)
    return { problem: `${which}does not give the orientation of its rows and columns (0020,0037)` };
  if (!spacing?.every((s) => s > 0.01 && s < 10))
    return { problem: `${which}does not give its pixel spacing (0028,0030)` };
  const values = group('x00289145');
  const slope = numbers(values, 'x00281053', 1)?.[0] ?? 1;
  const intercept = numbers(values, 'x00281052', 1)?.[0] ?? 0;
  if (slope === 0 || Math.abs(slope) > 1e4 || Math.abs(intercept) > 1e6)
    return { problem: `${which}has a rescale (0028,1052 and 1053) that gives no Hounsfield units` };
  const thickness = numbers(group('x00289110'), 'x00180050', 1)?.[0];
  return {
    positionMm: place,
    ...directions,
    rowSpacingMm: spacing[0],
    columnSpacingMm: spacing[1],
    ...(thickness !== undefined && thickness > 0.01 && thickness < 100 && { thicknessMm: thickness }),
    slope,
    intercept,
  };
}

const isPlace = (p: Vec3): boolean => p.every((x) => Math.abs(x) < 1e5);

function directionsOf(axes: readonly number[]): Pick<SliceHeader, 'along' | 'down'> | undefined {
  const along = axes.slice(0, 3) as Vec3;
  const down = axes.slice(3) as Vec3;
  const isUnit = (a: Vec3): boolean => Math.abs(length(a) - 1) < 1e-3;
  if (!isUnit(along) || !isUnit(down) || Math.abs(dot(along, down)) > 1e-3) return undefined;
  return { along: unit(along), down: unit(down) };
}

const unit = (a: Vec3): Vec3 => {
  const n = length(a);
  return [a[0] / n, a[1] / n, a[2] / n];
};

function pixelFormat(
  data: DataSet,
  source: SeriesFile,
  pixelCount: number,
): PixelFormat | { problem: string; todo?: string } {
  const syntax = text(data, 'x00020010') || '1.2.840.10008.1.2';
  if (!isRead(syntax)) return { problem: notReadBecause(syntax), todo: 'Export the series uncompressed' };
  const photometric = text(data, 'x00280004') || 'MONOCHROME2';
  if ((data.uint16('x00280002') ?? 1) !== 1 || photometric !== 'MONOCHROME2')
    return { problem: 'its pixels are colours or inverted greys, not CT values' };
  const bitsAllocated = data.uint16('x00280100') ?? 0;
  const bitsStored = data.uint16('x00280101') ?? bitsAllocated;
  const highBit = data.uint16('x00280102') ?? bitsStored - 1;
  if (bitsAllocated !== 16 && bitsAllocated !== 8)
    return { problem: `${bitsAllocated} bits per pixel are not read, only 8 and 16` };
  if (bitsStored < 1 || bitsStored > bitsAllocated || highBit !== bitsStored - 1)
    return { problem: `${bitsStored} bits stored up to bit ${highBit} of ${bitsAllocated} are not possible` };
  const element = data.elements.x7fe00010;
  const isPacked = element.hadUndefinedLength === true;
  const base = {
    syntax,
    bitsAllocated,
    bitsStored,
    isSigned: (data.uint16('x00280103') ?? 0) === 1,
    offset: element.dataOffset,
  };
  if (isPacked !== isEncapsulated(syntax)) return { problem: 'its pixels do not match its transfer syntax' };
  if (isPacked) return base;
  const needed = (pixelCount * bitsAllocated) / 8;
  const end = syntax === DEFLATED ? data.byteArray.length : source.bytes;
  const held = Math.max(0, Math.min(element.length, end - element.dataOffset));
  if (held < needed)
    return {
      problem: `its pixels need ${needed} bytes, but it holds ${held}: it is cut off`,
      todo: 'Copy it again or export it again',
    };
  return { ...base, length: element.length };
}

function factsOf(data: DataSet): SeriesFacts {
  const number = (set: DataSet | undefined, tag: string): number | undefined => numbers(set, tag, 1)?.[0];
  const group = (sequence: string): DataSet | undefined =>
    item(item(data, 'x52009229'), sequence) ?? item(item(data, 'x52009230'), sequence) ?? data;
  const series = data.elements.x00200011 ? data.intString('x00200011') : undefined;
  const date = ['x00080022', 'x00080021', 'x00080020', 'x00080023']
    .map((tag) => isoDate(text(data, tag)))
    .find(Boolean);
  const kilovolts = number(group('x00189325'), 'x00180060') ?? number(data, 'x00180060');
  const kernel = plainKernel(data, text(group('x00189314'), 'x00181210') || text(data, 'x00181210'));
  const position = /^(?:HF|FF|LF|RF|AF|PF)(?:S|P|DR|DL|DA|DP)?$/.exec(text(data, 'x00185100'))?.[0];
  const tilt = number(data, 'x00181120');
  const units = text(group('x00289145'), 'x00281054') || text(data, 'x00281054');
  return {
    ...(series !== undefined &&
      Number.isInteger(series) &&
      Math.abs(series) < 1e9 && { seriesNumber: series }),
    ...(date !== undefined && { date }),
    ...(kernel !== undefined && { kernel }),
    ...(kilovolts !== undefined && kilovolts >= 20 && kilovolts <= 400 && { kilovolts }),
    contrast: contrastOf(data),
    ...(position !== undefined && { patientPosition: position }),
    ...(tilt !== undefined && Math.abs(tilt) < 90 && { gantryTiltDeg: tilt }),
    isLossy: text(data, 'x00282110') === '01' || mayBeLossy(text(data, 'x00020010')),
    hasOtherUnits: units !== '' && units.toUpperCase() !== 'HU',
  };
}

/** Converts a DICOM date to an ISO date; fillers of de-identified files count as none. */
function isoDate(value: string): string | undefined {
  const match = /^(\d{4})\.?(\d{2})\.?(\d{2})$/.exec(value);
  if (!match) return undefined;
  const date = `${match[1]}-${match[2]}-${match[3]}`;
  const time = Date.parse(`${date}T00:00:00Z`);
  const isDay = Number.isFinite(time) && new Date(time).toISOString().startsWith(date);
  return isDay && Number(match[1]) > 1970 ? date : undefined;
}

/** Attributes whose words must not appear as a kernel. */
const NAMES = [
  'x00100010',
  'x00100020',
  'x00101000',
  'x00101001',
  'x00080050',
  'x00080080',
  'x00080090',
  'x00081010',
];

/** The name of a convolution kernel, if it looks like one and repeats no word that could identify the patient. */
function plainKernel(data: DataSet, value: string): string | undefined {
  const kernel = value.split('\\')[0].trim();
  if (!/^[A-Za-z][A-Za-z0-9+._ -]{0,15}$/.test(kernel) || looksIdentifying(kernel)) return undefined;
  const words = new Set(kernel.toLowerCase().split(/[^a-z0-9]+/));
  const isNamed = NAMES.some((tag) =>
    text(data, tag)
      .toLowerCase()
      .split(/[^a-z0-9]+/)
      .some((word) => word.length > 1 && words.has(word)),
  );
  return isNamed ? undefined : kernel;
}

const NO_AGENT = /^(?:no|none|non|not? given|without\b.*|native|unenhanced|non-?contrast\b.*|n\/?a)$/i;

/** Whether a contrast agent was given, according to the header; an empty field is not an answer. */
function contrastOf(data: DataSet): SeriesFacts['contrast'] {
  const agent = text(data, 'x00180010');
  if (agent !== '') return NO_AGENT.test(agent) ? 'no' : 'yes';
  const hasSequence = (data.elements.x00180012?.items?.length ?? 0) > 0;
  const volume = numbers(data, 'x00181041', 1)?.[0];
  return hasSequence || (volume !== undefined && volume > 0) ? 'yes' : 'unknown';
}

/** The direction in which the slices of a stack follow one another, pointing to the positive end of the nearest patient axis. */
export function normalOf({ along, down }: Pick<SliceHeader, 'along' | 'down'>): Vec3 {
  const normal = cross(along, down);
  const main = normal.reduce((best, x, k) => (Math.abs(x) > Math.abs(normal[best]) + 1e-6 ? k : best), 0);
  return normal[main] < 0 ? [-normal[0], -normal[1], -normal[2]] : normal;
}
