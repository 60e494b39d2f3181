import type { DataSet } from 'dicom-parser';
import { refuse } from '../mesh/read/mesh-file.js';
import {
  dicomDataSet,
  LABEL_MAP_SEGMENTATION,
  readingValues,
  SEGMENTATION,
} from '../mesh/recognise/dicom-facts.js';
import { checkAxes, checkSizes, type LabelMap, VoxelRuns } from './label-map.js';

/** Uncompressed transfer syntaxes, little endian: implicit, explicit, deflated. */
const PLAIN = new Set(['1.2.840.10008.1.2', '1.2.840.10008.1.2.1', '1.2.840.10008.1.2.1.99']);
/** Frames may deviate from even positions by this share of the distance between slices. */
const PLACE_TOLERANCE = 0.05;

type Triple = [number, number, number];

/** One frame: its segment, if it shows a single one, and the position of its first pixel, mm LPS. */
interface SegFrame {
  segment?: number;
  position: Triple;
}

/**
 * A DICOM segmentation object (PS3.3 A.51 and C.8.20) as a label map; labels are segment numbers or segment labels. Binary segments are
 * taken as they are, fractional ones at one half or more, with a note; in a label map (Supplement 243) each pixel is the number of its
 * segment, and the padding value is the background. No patient data are read. Throws `InputFailure` (3).
 */
export async function dicomSegmentation(
  bytes: Uint8Array,
  file: string,
  wanted: (names: ReadonlyMap<string, number>) => Iterable<number>,
): Promise<LabelMap> {
  const data = await dicomDataSet(bytes, file);
  return readingValues(file, () => mapOf(data, file, wanted));
}

function mapOf(
  data: DataSet,
  file: string,
  wanted: (names: ReadonlyMap<string, number>) => Iterable<number>,
): LabelMap {
  const bad = (where: string, what: string, todo = 'Export the segmentation again'): never =>
    refuse(file, `DICOM ${where}`, what, todo);
  const sopClass = data.string('x00080016')?.trim();
  const isLabelMap = sopClass === LABEL_MAP_SEGMENTATION;
  if (!isLabelMap && sopClass !== SEGMENTATION)
    bad('(0008,0016)', 'it is not a segmentation object', 'Give a segmentation (SEG), not the images');
  if (!PLAIN.has(data.string('x00020010')?.trim() ?? ''))
    bad('(0002,0010)', 'its pixels are compressed', 'Export the segmentation uncompressed');
  const [rows, columns] = [data.uint16('x00280010') ?? 0, data.uint16('x00280011') ?? 0];
  const frames = framesOf(data, file, isLabelMap);
  const bits = data.uint16('x00280100');
  const type = data.string('x00620001')?.trim() ?? '';
  if (isLabelMap !== (type === 'LABELMAP'))
    return bad('(0062,0001)', 'its kind of segmentation does not fit its SOP class');
  const isFractional = type === 'FRACTIONAL';
  if (!(isLabelMap ? [8, 16] : [isFractional ? 8 : 1]).includes(bits ?? 0))
    return bad('(0028,0100)', `${bits ?? 'unstated'} bits per pixel are not read`);
  const pixels = data.elements.x7fe00010;
  const needed = Math.ceil((rows * columns * frames.length * bits!) / 8);
  if (!pixels || pixels.length < needed || pixels.dataOffset + needed > data.byteArray.length)
    return bad(
      '(7FE0,0010)',
      `${frames.length} frames of ${columns} x ${rows} need ${needed} bytes of pixels, which it does not hold`,
    );

  const { axes, origin, slices, place } = gridOf(data, frames, file);
  const sizes = checkSizes([columns, rows, slices], file);
  const full = data.uint16('x0062000e') ?? 255;
  const half = isFractional ? full / 2 : 0.5;
  const notes = isFractional
    ? [
        `The segmentation is fractional: it was cut at 50 %, voxels of at least ${Math.ceil(half)} of ${full} were taken. Walls move with that level.`,
      ]
    : [];
  const segments = new Set(frames.map((f) => f.segment));
  // frames without a voxel may be omitted (PS3.3 C.8.20.2): the exporter wrote all frames only if no segment lacks any
  const mayGoOn = !isLabelMap && (segments.size === 1 || frames.length < slices * segments.size);
  const grid = checkAxes({ sizes, origin, axes, isOriented: true, mayGoOn, notes }, file);
  const names = segmentNames(data);
  const isInside = isFractional
    ? (i: number): boolean => data.byteArray[pixels.dataOffset + i] >= half
    : (i: number): boolean => ((data.byteArray[pixels.dataOffset + (i >>> 3)] >> (i & 7)) & 1) === 1;
  const asked = new Set(wanted(names));
  if (isLabelMap)
    return { grid, names, ...numberedPixels(data, frames, place, rows, columns, asked, bad, file) };
  const segmentRuns = singleSegments({ frames, place, rows, columns, asked, isInside, bad, file });
  return { grid, names, ...segmentRuns };
}

/** The runs of each segment in frames of one segment each. */
function singleSegments({
  frames,
  place,
  rows,
  columns,
  asked,
  isInside,
  bad,
  file,
}: {
  frames: readonly SegFrame[];
  place: (p: Triple) => number;
  rows: number;
  columns: number;
  asked: ReadonlySet<number>;
  isInside: (pixel: number) => boolean;
  bad: (where: string, what: string) => never;
  file: string;
}): Pick<LabelMap, 'labels' | 'present'> {
  const labels = new Map<number, VoxelRuns>();
  const counted = [...new Set(frames.map((f) => f.segment!))].sort((a, b) => a - b);
  const present: LabelMap['present'] = [];
  for (const label of new Set([...asked, ...counted])) {
    const runs = asked.has(label) ? new VoxelRuns(rows, { file, label }) : undefined;
    let voxels = 0;
    const own = frames.flatMap((frame, f) =>
      frame.segment === label ? [{ f, k: place(frame.position) }] : [],
    );
    own.sort((a, b) => a.k - b.k);
    for (const [i, { f, k }] of own.entries()) {
      if (i > 0 && own[i - 1].k === k) bad('(5200,9230)', `segment ${label} has two frames in one place`);
      voxels += frameRuns(isInside, f * rows * columns, rows, columns, k * rows, runs);
    }
    if (runs) labels.set(label, runs);
    if (voxels > 0) present.push({ label, voxels });
  }
  present.sort((a, b) => a.label - b.label);
  return { labels, present: present.slice(0, 100) };
}

/** The runs of each segment in frames whose pixels are segment numbers. */
function numberedPixels(
  data: DataSet,
  frames: readonly SegFrame[],
  place: (p: Triple) => number,
  rows: number,
  columns: number,
  asked: ReadonlySet<number>,
  bad: (where: string, what: string) => never,
  file: string,
): Pick<LabelMap, 'labels' | 'present'> {
  const { dataOffset } = data.elements.x7fe00010;
  const view = new DataView(data.byteArray.buffer, data.byteArray.byteOffset + dataOffset);
  const isWide = data.uint16('x00280100') === 16;
  const background = data.uint16('x00280120') ?? 0;
  const numberAt = (i: number): number => {
    const value = isWide ? view.getUint16(2 * i, true) : view.getUint8(i);
    return value === background ? 0 : value;
  };
  const labels = new Map([...asked].map((label) => [label, new VoxelRuns(rows, { file, label })]));
  const counts = new Map<number, number>();
  const ordered = frames.map(({ position }, f) => ({ f, k: place(position) })).sort((a, b) => a.k - b.k);
  ordered.forEach(({ f, k }, n) => {
    if (n > 0 && ordered[n - 1].k === k) bad('(5200,9230)', 'it has two frames in one place');
    for (let j = 0; j < rows; j++) {
      const start = (f * rows + j) * columns;
      for (let i = 0; i < columns; ) {
        const label = numberAt(start + i);
        const first = i++;
        while (i < columns && numberAt(start + i) === label) i++;
        if (label === 0) continue;
        counts.set(label, (counts.get(label) ?? 0) + i - first);
        labels.get(label)?.add(k * rows + j, first, i);
      }
    }
  });
  const present = [...counts].map(([label, voxels]) => ({ label, voxels }));
  return { labels, present: present.sort((a, b) => a.label - b.label).slice(0, 100) };
}

/** Adds the runs of one frame if `runs` is given; returns how many voxels are inside. */
function frameRuns(
  isInside: (i: number) => boolean,
  from: number,
  rows: number,
  columns: number,
  firstRow: number,
  runs: VoxelRuns | undefined,
): number {
  let voxels = 0;
  for (let j = 0; j < rows; j++) {
    const start = from + j * columns;
    for (let i = 0; i < columns; i++) {
      if (!isInside(start + i)) continue;
      const first = i;
      while (i < columns && isInside(start + i)) i++;
      voxels += i - first;
      runs?.add(firstRow + j, first, i);
    }
  }
  return voxels;
}

const sequence = (data: DataSet | undefined, tag: string): DataSet | undefined =>
  data?.elements[tag]?.items?.[0]?.dataSet;

function triple(data: DataSet | undefined, tag: string, from = 0): Triple | undefined {
  const values = [0, 1, 2].map((k) => data?.floatString(tag, from + k));
  return values.every((v) => v !== undefined && Number.isFinite(v)) ? (values as Triple) : undefined;
}

function framesOf(data: DataSet, file: string, isLabelMap: boolean): SegFrame[] {
  const items = data.elements.x52009230?.items ?? [];
  const stated = data.intString('x00280008') ?? items.length;
  if (items.length === 0 || stated !== items.length)
    refuse(
      file,
      'DICOM (5200,9230)',
      `it describes ${items.length} of ${stated} frames`,
      'Export the segmentation again',
    );
  return items.map(({ dataSet }, i) => {
    const segment = sequence(dataSet, 'x0062000a')?.uint16('x0062000b');
    const position = triple(sequence(dataSet, 'x00209113'), 'x00200032');
    if (position && isLabelMap) return { position };
    if (!segment || !position)
      return refuse(
        file,
        'DICOM (5200,9230)',
        `frame ${i + 1} does not say its ${isLabelMap ? 'place' : 'segment and place'}`,
        'Export the segmentation again',
      );
    return { segment, position };
  });
}

/** Axes, first voxel and number of slices; `place` returns the slice of a frame. */
function gridOf(data: DataSet, frames: readonly SegFrame[], file: string) {
  const bad = (what: string): never =>
    refuse(file, 'DICOM functional groups', what, 'Export the segmentation again');
  const shared = sequence(data, 'x52009229');
  const first = data.elements.x52009230?.items?.[0]?.dataSet;
  const group = (tag: string): DataSet | undefined => sequence(shared, tag) ?? sequence(first, tag);
  const orientation = group('x00209116');
  const along = triple(orientation, 'x00200037');
  const down = triple(orientation, 'x00200037', 3);
  const measures = group('x00289110');
  const [rowMm, columnMm] = [measures?.floatString('x00280030', 0), measures?.floatString('x00280030', 1)];
  if (!along || !down || !rowMm || !columnMm) return bad('it does not state the orientation of its pixels');
  const normal: Triple = [
    along[1] * down[2] - along[2] * down[1],
    along[2] * down[0] - along[0] * down[2],
    along[0] * down[1] - along[1] * down[0],
  ];
  const height = (p: Triple): number => p[0] * normal[0] + p[1] * normal[1] + p[2] * normal[2];
  const heights = [...new Set(frames.map((f) => Math.round(height(f.position) * 1e4) / 1e4))].sort(
    (a, b) => a - b,
  );
  const gaps = heights.slice(1).map((h, i) => h - heights[i]);
  const stepMm =
    gaps.length > 0
      ? Math.min(...gaps)
      : (measures?.floatString('x00180088') ?? measures?.floatString('x00180050') ?? 0);
  if (!(stepMm > 1e-3)) return bad('it does not state the spacing of its slices');
  const place = (p: Triple): number => Math.round((height(p) - heights[0]) / stepMm);
  if (
    heights.some(
      (h) => Math.abs((h - heights[0]) / stepMm - Math.round((h - heights[0]) / stepMm)) > PLACE_TOLERANCE,
    )
  )
    return bad('its slices are unevenly spaced');
  const lowest = frames.find((f) => place(f.position) === 0)!.position;
  const scaled = (axis: Triple, mm: number): Triple => axis.map((x) => x * mm) as Triple;
  return {
    axes: [scaled(along, columnMm), scaled(down, rowMm), scaled(normal, stepMm)],
    origin: lowest,
    slices:
      place(frames.reduce((top, f) => (height(f.position) > height(top.position) ? f : top)).position) + 1,
    place,
  };
}

/** Decodes a text in the character set of the file; only UTF-8 and Latin-1 are distinguished (PS3.3 C.12.1.1.2). */
function textIn(data: DataSet, tag: string, charset: 'utf-8' | 'latin1'): string | undefined {
  const element = data.elements[tag];
  if (!element) return undefined;
  const bytes = data.byteArray.subarray(element.dataOffset, element.dataOffset + element.length);
  return new TextDecoder(charset).decode(bytes).replace(/\0/g, '').trim();
}

/** Segment labels that occur once, with their numbers. */
function segmentNames(data: DataSet): Map<string, number> {
  const charset = data.string('x00080005')?.trim() === 'ISO_IR 192' ? 'utf-8' : 'latin1';
  const names = new Map<string, number>();
  const twice = new Set<string>();
  for (const { dataSet } of data.elements.x00620002?.items ?? []) {
    const number = dataSet?.uint16('x00620004');
    const name = dataSet && textIn(dataSet, 'x00620005', charset);
    if (!number || !name) continue;
    if (names.has(name)) twice.add(name);
    names.set(name, number);
  }
  for (const name of twice) names.delete(name);
  return names;
}
