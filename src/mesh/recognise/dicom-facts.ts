import { inflateRawSync } from 'node:zlib';
import type { DataSet } from 'dicom-parser';
import { InputFailure } from '../../foundation/failure.js';
import { refuse } from '../read/mesh-file.js';
import { dicomIdentity } from './identity.js';
import type { Identity } from './identity-fields.js';

/** SOP class of an Encapsulated STL object (DICOM PS3.4 annex B.5). */
export const ENCAPSULATED_STL = '1.2.840.10008.5.1.4.1.1.104.3';
/** SOP class of a segmentation object (DICOM PS3.4 annex B.5). */
export const SEGMENTATION = '1.2.840.10008.5.1.4.1.1.66.4';
/** SOP class of a label map segmentation object (DICOM Supplement 243; PS3.4 annex B.5). */
export const LABEL_MAP_SEGMENTATION = '1.2.840.10008.5.1.4.1.1.66.7';
const DEFLATED = '1.2.840.10008.1.2.1.99';
const MOST_INFLATED = 256 * 2 ** 20;

/** Header facts that identify nobody: for patient, place and operator only the names of filled fields are kept. */
export interface DicomFacts {
  sopClass: string;
  /** Description of the SOP class, if known. */
  kind: string;
  modality: string;
  /** Distinguishes series while reading a folder; never printed. */
  seriesKey: string;
  rows?: number;
  columns?: number;
  frames?: number;
  sliceThicknessMm?: number;
  /** Row spacing and column spacing, mm. */
  pixelSpacingMm?: [number, number];
  transferSyntax: string;
  identity: Identity;
}

const KINDS: Record<string, string> = {
  '1.2.840.10008.5.1.4.1.1.2': 'CT image',
  '1.2.840.10008.5.1.4.1.1.2.1': 'enhanced CT image',
  '1.2.840.10008.5.1.4.1.1.4': 'MR image',
  [SEGMENTATION]: 'segmentation',
  [LABEL_MAP_SEGMENTATION]: 'label map segmentation',
  '1.2.840.10008.5.1.4.1.1.66.5': 'surface segmentation',
  '1.2.840.10008.5.1.4.1.1.12.1': 'X-ray angiography image',
  [ENCAPSULATED_STL]: 'encapsulated STL model',
  '1.2.840.10008.5.1.4.1.1.104.4': 'encapsulated OBJ model',
  '1.2.840.10008.5.1.4.1.1.104.1': 'encapsulated PDF',
};

/** True for a DICOM file in the form of PS3.10: 128 bytes, then "DICM". */
export function isDicom(start: Uint8Array): boolean {
  return start.length >= 132 && new TextDecoder('latin1').decode(start.subarray(128, 132)) === 'DICM';
}

/** Facts of one DICOM file from all or the first part of its bytes. Throws `InputFailure` (3) if it is damaged. */
export async function dicomFacts(bytes: Uint8Array, file: string): Promise<DicomFacts> {
  const data = await dicomDataSet(bytes, file, 'x7fe00010');
  return readingValues(file, () => factsOf(data));
}

function factsOf(data: DataSet): DicomFacts {
  const number = (tag: string): number | undefined => {
    const value = data.floatString(tag);
    return value !== undefined && Number.isFinite(value) ? value : undefined;
  };
  const text = (tag: string): string => plainToken(data.string(tag));
  const sopClass = text('x00080016');
  const facts: DicomFacts = {
    sopClass,
    kind: Object.hasOwn(KINDS, sopClass) ? KINDS[sopClass] : 'other object',
    modality: text('x00080060') || 'not stated',
    seriesKey: text('x0020000e'),
    transferSyntax: text('x00020010'),
    identity: dicomIdentity(data),
  };
  const rows = data.uint16('x00280010');
  const columns = data.uint16('x00280011');
  const frames = data.intString('x00280008');
  const thickness = number('x00180050');
  const spacing = [data.floatString('x00280030', 0), data.floatString('x00280030', 1)];
  if (rows) facts.rows = rows;
  if (columns) facts.columns = columns;
  if (frames && frames > 1) facts.frames = frames;
  if (thickness !== undefined && thickness > 0) facts.sliceThicknessMm = thickness;
  if (spacing.every((s) => s !== undefined && s > 0 && Number.isFinite(s))) {
    facts.pixelSpacingMm = spacing as [number, number];
  }
  return facts;
}

/** The STL inside an Encapsulated STL object (0042,0011), and mm per unit, if the object states it. */
export async function encapsulatedModel(
  bytes: Uint8Array,
  file: string,
): Promise<{ bytes: Uint8Array; unitMm?: number }> {
  const data = await dicomDataSet(bytes, file);
  return readingValues(file, () => documentOf(data, file));
}

function documentOf(data: DataSet, file: string): { bytes: Uint8Array; unitMm?: number } {
  const element = data.elements.x00420011;
  if (!element || element.length <= 0) {
    refuse(file, 'DICOM (0042,0011)', 'it contains no encapsulated document', 'Export the object again');
  }
  const end = element.dataOffset + element.length;
  if (end > data.byteArray.length) {
    refuse(file, 'DICOM (0042,0011)', 'the file is cut off', 'Copy it again or export it again');
  }
  // A document of odd length has one byte of padding; its true length may be in (0042,0015).
  const stated = data.uint32('x00420015');
  const length = stated !== undefined && stated > 0 && stated <= element.length ? stated : element.length;
  const model = Uint8Array.from(data.byteArray.subarray(element.dataOffset, element.dataOffset + length));
  const code = data.elements.x004008ea?.items?.[0]?.dataSet?.string('x00080100')?.trim();
  const unitMm = code === undefined ? undefined : { mm: 1, um: 0.001, cm: 10, m: 1000 }[code];
  return unitMm === undefined ? { bytes: model } : { bytes: model, unitMm };
}

/** Converts parser errors from values whose stated length does not fit their type into errors on the file. */
export function readingValues<T>(file: string, read: () => T): T {
  try {
    return read();
  } catch (error) {
    if (error instanceof InputFailure) throw error;
    return refuse(file, 'DICOM header', 'a value in it is damaged', 'Copy the file again or export it again');
  }
}

/** The elements of a DICOM file, or those before `untilTag`. Throws `InputFailure` (3) if it is damaged. */
export async function dicomDataSet(bytes: Uint8Array, file: string, untilTag?: string): Promise<DataSet> {
  const { default: dicomParser } = await import('dicom-parser');
  const inflater = (all: Uint8Array, position: number): Uint8Array => {
    const inflated = inflateRawSync(all.subarray(position), { maxOutputLength: MOST_INFLATED });
    const joined = new Uint8Array(position + inflated.length);
    joined.set(all.subarray(0, position));
    joined.set(inflated, position);
    return joined;
  };
  const options = { ...(untilTag ? { untilTag } : {}), inflater };
  try {
    return dicomParser.parseDicom(bytes, options);
  } catch (error) {
    // If only the first part of a file was given, the parser returns what it has read so far.
    const partial =
      typeof error === 'object' && error !== null && 'dataSet' in error ? error.dataSet : undefined;
    if (isDataSet(partial)) {
      if (untilTag && readingValues(file, () => partial.string('x00080016'))) return partial;
    }
    const deflated =
      isDataSet(partial) && readingValues(file, () => partial.string('x00020010')) === DEFLATED;
    return refuse(
      file,
      'DICOM header',
      deflated ? 'its deflated data are damaged' : 'it is damaged or cut off',
      'Copy the file again or export it again',
    );
  }
}

function isDataSet(value: unknown): value is DataSet {
  return typeof value === 'object' && value !== null && 'elements' in value && 'string' in value;
}

/** A coded value reduced to the characters of codes and UIDs; anything else in such a field is not shown. */
function plainToken(value: string | undefined): string {
  const text = (value ?? '').replace(/\0/g, '').trim();
  return /^[A-Za-z0-9._ -]{1,64}$/.test(text) ? text : '';
}
