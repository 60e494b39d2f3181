import { addTo } from '../../foundation/add-to.js';
import type { DataSet } from 'dicom-parser';
import { InputFailure } from '../../foundation/failure.js';
import { type Finding, finding } from '../../foundation/finding.js';
import { coordinates, fixed } from '../../foundation/number-text.js';
import { dot } from '../../foundation/vector.js';
import { dicomDataSet } from '../../mesh/recognise/dicom-facts.js';
import { joinedIdentity } from '../../mesh/recognise/identity.js';
import type { Identity } from '../../mesh/recognise/identity-fields.js';
import type { Rules } from '../../rules/rule.js';
import { DamagedFrame, decodeFrame } from './decode-frame.js';
import { fillValues } from './frame-values.js';
import type { GreyVolume } from './grey-volume.js';
import {
  type BadObject,
  type CtObject,
  imageHeader,
  normalOf,
  type SeriesFacts,
  type SeriesFile,
  type SliceHeader,
} from './image-header.js';
import { type SliceStack, sortSlices, type StackFacts } from './slice-stack.js';
import { isEncapsulated, syntaxName } from './transfer-syntax.js';

/** One CT series of a folder: its headers, sorted and checked. */
export interface CtSeries {
  facts: SeriesFacts;
  identity: Identity;
  /** The encodings of its pixels, each once. */
  packing: string[];
  slices: SliceHeader[];
  sliceCount: number;
  columns: number;
  rows: number;
  thicknessMm?: number;
  stack?: SliceStack;
  stackFacts?: StackFacts;
  problems: string[];
  findings: Finding[];
}

/** The content of a folder of images. */
export interface SeriesFolder {
  series: CtSeries[];
  /** DICOM objects of other kinds by modality, sorted. */
  others: { modality: string; files: number }[];
  /** Files that are not DICOM. */
  junk: number;
  identity: Identity;
}

/**
 * Reads the headers of all files of a folder, in the order of their names. No pixels are read, no name or identifier is kept. Files that
 * are not DICOM are counted; images that cannot be used are problems of their series.
 */
export async function readFolder(
  files: readonly SeriesFile[],
  rules: Pick<Rules, 'byId'>,
): Promise<SeriesFolder> {
  const groups = new Map<string, CtObject[]>();
  const bad: BadObject[] = [];
  const others = new Map<string, number>();
  const identities: Identity[] = [];
  let junk = 0;
  for (const [number, file] of files.entries()) {
    const object = await imageHeader(file, number);
    if (object === undefined) junk++;
    else if (object.kind === 'bad') bad.push(object);
    else {
      identities.push(object.identity);
      if (object.kind === 'other') others.set(object.modality, (others.get(object.modality) ?? 0) + 1);
      else addTo(groups, object.seriesKey, object);
    }
  }
  const lists = [...groups.values()];
  const series = lists.map((objects) => seriesOf(objects, rules));
  // an unusable image belongs to the only series of the folder; if there are several, its series is unknown
  if (bad.length > 0) {
    const problems = badImages(bad, files.length);
    if (series.length === 0) series.push(unreadable(bad.length));
    for (const one of series) one.problems.unshift(...problems);
  }
  series.sort(
    (a, b) => (a.facts.seriesNumber ?? 1e9) - (b.facts.seriesNumber ?? 1e9) || b.sliceCount - a.sliceCount,
  );
  return {
    series,
    others: [...others]
      .map(([modality, count]) => ({ modality, files: count }))
      .sort((a, b) => (a.modality < b.modality ? -1 : 1)),
    junk,
    identity: joinedIdentity(identities),
  };
}

const unreadable = (count: number): CtSeries => ({
  facts: { contrast: 'unknown', isLossy: false, hasOtherUnits: false },
  identity: { by: [], freeText: [] },
  packing: [],
  slices: [],
  sliceCount: count,
  columns: 0,
  rows: 0,
  problems: [],
  findings: [],
});

/** One line for each kind of fault; files are given by number, since their names may identify a patient. */
function badImages(bad: readonly BadObject[], files: number): string[] {
  const kinds = new Map<string, BadObject[]>();
  for (const one of bad) {
    addTo(kinds, `${one.problem}. ${one.todo}`, one);
  }
  return [...kinds].map(([key, those]) => {
    const shown = those.slice(0, 5).map(({ file, positionMm }) => {
      const place = positionMm ? `, at (${coordinates(positionMm)}) mm` : '';
      return `file ${file + 1} of ${files} in the order of names${place}`;
    });
    const more = those.length > 5 ? ` and ${those.length - 5} more` : '';
    return `An image cannot be used: ${key.replace(/^(.*?)\. /, (_, what) => `${what} (${shown.join('; ')}${more}). `)}.`;
  });
}

const WHERE = 'scan.series';

function seriesOf(objects: readonly CtObject[], rules: Pick<Rules, 'byId'>): CtSeries {
  const slices = objects.flatMap((object) => object.slices);
  const facts = sharedFacts(objects);
  const sorted = sortSlices(slices, rules);
  const problems = [...sorted.problems];
  const findings = [...sorted.findings];
  const frames = new Set(objects.map(({ frameOfReference }) => frameOfReference));
  if (frames.size > 1)
    problems.push(
      `The slices name ${frames.size} frames of reference: the patient was repositioned between them. Give a folder of one acquisition.`,
    );
  const rescales = new Map<string, SliceHeader[]>();
  for (const s of sorted.slices) {
    addTo(rescales, `${s.slope} ${s.intercept}`, s);
  }
  if (rescales.size > 1) findings.push(mixedRescale([...rescales.values()]));
  findings.push(...factFindings(facts));
  const thickness = sorted.facts?.thicknessMm ?? slices.find((s) => s.thicknessMm)?.thicknessMm;
  return {
    facts,
    identity: joinedIdentity(objects.map(({ identity }) => identity)),
    packing: [...new Set(slices.map(({ pixels }) => syntaxName(pixels.syntax)))].sort(),
    slices: problems.length > 0 ? [] : sorted.slices,
    sliceCount: slices.length,
    columns: slices[0].columns,
    rows: slices[0].rows,
    ...(thickness !== undefined && {
      thicknessMm: Array.isArray(thickness) ? Math.max(...thickness) : thickness,
    }),
    ...(problems.length === 0 && { stack: sorted.stack, stackFacts: sorted.facts }),
    problems,
    findings,
  };
}

function mixedRescale(groups: readonly SliceHeader[][]): Finding {
  const [most, ...rest] = [...groups].sort((a, b) => b.length - a.length);
  const odd = rest.flat();
  const normal = normalOf(most[0]);
  const places = odd.slice(0, 5).map((s) => fixed(dot(s.positionMm, normal), 2));
  const more = odd.length > 5 ? ` and ${odd.length - 5} more` : '';
  return finding(
    'caution',
    'scan-rescale-mixed',
    WHERE,
    `Slices scale their pixels differently: ${most.length} by slope ${most[0].slope} and intercept ${most[0].intercept}, ${odd.length} others by ${odd[0].slope} and ${odd[0].intercept}, at ${places.join(', ')} mm along the stack${more}. Each was read by its own. Check that they are one reconstruction.`,
  );
}

/** The values on which all objects of a series agree; values that differ are left out. */
function sharedFacts(objects: readonly CtObject[]): SeriesFacts {
  const [{ facts: first }] = objects;
  const all = objects.map(({ facts }) => facts);
  const alike = <K extends keyof SeriesFacts>(key: K): Partial<Pick<SeriesFacts, K>> =>
    first[key] !== undefined && all.every((f) => f[key] === first[key])
      ? ({ [key]: first[key] } as Partial<Pick<SeriesFacts, K>>)
      : {};
  const dates = all.flatMap(({ date }) => date ?? []).sort();
  return {
    ...alike('seriesNumber'),
    ...(dates.length > 0 && { date: dates[0] }),
    ...alike('kernel'),
    ...alike('kilovolts'),
    ...alike('patientPosition'),
    ...alike('gantryTiltDeg'),
    contrast: all.every(({ contrast }) => contrast === first.contrast) ? first.contrast : 'unknown',
    isLossy: all.some(({ isLossy }) => isLossy),
    hasOtherUnits: all.some(({ hasOtherUnits }) => hasOtherUnits),
  };
}

function factFindings({ contrast, isLossy, hasOtherUnits }: SeriesFacts): Finding[] {
  const findings: Finding[] = [];
  if (contrast === 'no')
    findings.push(
      finding(
        'caution',
        'scan-without-contrast',
        WHERE,
        'The header says that no contrast agent was given: vessels are hardly brighter than their surroundings. Check the surfaces against an enhanced scan.',
      ),
    );
  if (isLossy)
    findings.push(
      finding(
        'caution',
        'scan-lossy',
        WHERE,
        'The pixels were or may have been compressed with loss: grey values at a wall may be off. Send the series from the archive without loss.',
      ),
    );
  if (hasOtherUnits)
    findings.push(
      finding(
        'caution',
        'scan-other-units',
        WHERE,
        'The header states other units than Hounsfield units (0028,1054): levels of contrast may be wrong. Give a usual reconstruction.',
      ),
    );
  return findings;
}

/** The only series of a folder, or the requested one; else why there is none, as sentences. */
export function pickSeries(folder: SeriesFolder, seriesNumber?: number): CtSeries | string[] {
  const { series, others, junk } = folder;
  if (series.length === 0) {
    const held = others.map(
      ({ modality, files }) => `${files} ${files === 1 ? 'file' : 'files'} of modality ${modality}`,
    );
    const rest =
      junk > 0 ? [junk === 1 ? '1 file that is not DICOM' : `${junk} files that are not DICOM`] : [];
    const list = [...held, ...rest];
    return [
      `it contains no CT image${list.length > 0 ? `, but ${list.join(', ')}` : ': it is empty'}. Give the folder of the CT series.`,
    ];
  }
  const fitting =
    seriesNumber === undefined ? series : series.filter(({ facts }) => facts.seriesNumber === seriesNumber);
  if (fitting.length === 1) return fitting[0];
  const list = series.map(
    ({ facts, sliceCount, thicknessMm }) =>
      `${facts.seriesNumber === undefined ? 'no number' : `number ${facts.seriesNumber}`} (${sliceCount} slices, ${thicknessMm === undefined ? 'thickness not stated' : `${fixed(thicknessMm, 2)} mm thick`})`,
  );
  const many = `it holds ${series.length === 1 ? 'one CT series' : `${series.length} CT series`}: ${list.join('; ')}`;
  if (seriesNumber !== undefined && fitting.length === 0)
    return [`${many}. None has the number ${seriesNumber}: correct scan.series_number.`];
  const isNumbered = new Set(series.map(({ facts }) => facts.seriesNumber)).size === series.length;
  return [
    isNumbered && series.some(({ facts }) => facts.seriesNumber !== undefined)
      ? `${many}. Pick one with scan.series_number.`
      : `${many}. Their numbers do not distinguish them: give a folder that contains one series.`,
  ];
}

/** Pixels of a file that must be read whole: deflated or compressed. */
interface WholeObject {
  file: number;
  data: DataSet;
}

/**
 * Reads the pixels of a sorted series into one 16-bit copy. Throws `DamagedSlices` with the positions of slices that cannot be read.
 */
export async function readVoxels(series: CtSeries, files: readonly SeriesFile[]): Promise<GreyVolume> {
  const { stack, slices } = series;
  if (!stack) throw new RangeError('a series with problems has no voxels');
  const perSlice = stack.columns * stack.rows;
  const values = new Int16Array(perSlice * stack.slices);
  const damaged = new Map<string, number[]>();
  let whole: WholeObject | undefined;
  for (const [k, slice] of slices.entries()) {
    const into = values.subarray(k * perSlice, (k + 1) * perSlice);
    try {
      whole = await readSlice(slice, files[slice.file], perSlice, into, whole);
    } catch (error) {
      if (!(error instanceof DamagedFrame)) throw error;
      addTo(damaged, error.message, stack.heights[k]);
    }
  }
  if (damaged.size > 0) throw new DamagedSlices(damaged);
  return { stack, values };
}

/** Slices whose pixels cannot be read; `problems` as sentences with their cure. */
export class DamagedSlices extends Error {
  readonly problems: string[];

  constructor(damaged: ReadonlyMap<string, number[]>) {
    super('slices are damaged');
    this.problems = [...damaged].map(([what, places]) => {
      const shown = places.slice(0, 5).map((p) => fixed(p, 2));
      const more = places.length > 5 ? ` and ${places.length - 5} more` : '';
      return `A slice cannot be read: ${what} (at ${shown.join(', ')} mm along the stack${more}). Copy it again or export it again.`;
    });
  }
}

async function readSlice(
  slice: SliceHeader,
  file: SeriesFile,
  pixelCount: number,
  into: Int16Array,
  before: WholeObject | undefined,
): Promise<WholeObject | undefined> {
  const { pixels, frame } = slice;
  const bytes = (pixelCount * pixels.bitsAllocated) / 8;
  const isPacked = isEncapsulated(pixels.syntax);
  if (!isPacked && !isDeflated(pixels.syntax)) {
    const read = await file.read(pixels.offset + frame * bytes, bytes);
    if (read.length < bytes) throw new DamagedFrame('it is cut off');
    fillValues(read, slice, false, into);
    return undefined;
  }
  const whole = before?.file === slice.file ? before : { file: slice.file, data: await wholeData(file) };
  if (isPacked) {
    const stream = await frameStream(whole.data, frame, slice);
    fillValues(await decodeFrame(stream, pixels.syntax, { ...slice, ...pixels }), slice, true, into);
  } else {
    const from = pixels.offset + frame * bytes;
    const read = whole.data.byteArray.subarray(from, from + bytes);
    if (read.length < bytes) throw new DamagedFrame('it is cut off');
    fillValues(read, slice, false, into);
  }
  return whole;
}

const isDeflated = (syntax: string): boolean => syntax === '1.2.840.10008.1.2.1.99';

async function wholeData(file: SeriesFile): Promise<DataSet> {
  try {
    return await dicomDataSet(await file.read(0, file.bytes), '');
  } catch (error) {
    if (!(error instanceof InputFailure)) throw error;
    throw new DamagedFrame('its compressed pixels are damaged or cut off');
  }
}

/** The compressed stream of one frame (DICOM PS3.5 A.4): by fragments if each frame has one, else by offsets. */
async function frameStream(data: DataSet, frame: number, slice: SliceHeader): Promise<Uint8Array> {
  const { default: dicomParser } = await import('dicom-parser');
  const element = data.elements.x7fe00010;
  const fragments = element?.fragments ?? [];
  const frames = Number(data.intString('x00280008') ?? 1);
  try {
    if (!element || fragments.length === 0) throw new DamagedFrame('it contains no compressed pixels');
    const end = fragments[fragments.length - 1];
    if (end.position + end.length > data.byteArray.length)
      throw new DamagedFrame('its compressed pixels are damaged or cut off');
    if (frames === 1)
      return dicomParser.readEncapsulatedPixelDataFromFragments(data, element, 0, fragments.length);
    if (fragments.length === frames)
      return dicomParser.readEncapsulatedPixelDataFromFragments(data, element, frame, 1);
    const table = element.basicOffsetTable ?? [];
    if (table.length === frames) return dicomParser.readEncapsulatedImageFrame(data, element, frame);
    if (syntaxName(slice.pixels.syntax) === 'RLE') throw new DamagedFrame('its frames cannot be told apart');
    const found = dicomParser.createJPEGBasicOffsetTable(data, element);
    return dicomParser.readEncapsulatedImageFrame(data, element, frame, found);
  } catch (error) {
    if (error instanceof DamagedFrame) throw error;
    // the parser throws strings
    throw new DamagedFrame('its compressed pixels are damaged or cut off');
  }
}
