import { strToU8 } from 'fflate';
import { deflated } from '../foundation/deflate.js';
import { joinedBytes } from '../foundation/joined-bytes.js';
import type { Vec3 } from '../foundation/vector.js';

/** Labels on a grid; x runs fastest, then y, then z. */
export interface WrittenLabels {
  size: readonly [number, number, number];
  /** Centre of the first voxel, mm. */
  originMm: Vec3;
  /** Steps along the three axes, mm. */
  directions: readonly [Vec3, Vec3, Vec3];
  values: Uint8Array;
}

/** Decimals of a length in mm, well below the error of any voxel. */
const DIGITS = 6;

/**
 * A label map as NRRD, version 5: unsigned bytes compressed with gzip, `space` in patient axes, mm. `names` are those of labels 1, 2 and
 * so on, written as key/value pairs. Same input, same bytes.
 *
 * Source  the format's own definition, teem.sourceforge.net/nrrd/format.html
 */
export function writeNrrd(
  { size, originMm, directions, values }: WrittenLabels,
  frame: 'LPS' | 'RAS',
  names: readonly string[],
): Uint8Array {
  const vector = (v: Vec3): string => `(${v.map((x) => Number(x.toFixed(DIGITS))).join(',')})`;
  const header = [
    'NRRD0005',
    '# labels of pavm-planner, mm',
    'type: uint8',
    'dimension: 3',
    `space: ${frame === 'RAS' ? 'right-anterior-superior' : 'left-posterior-superior'}`,
    `sizes: ${size.join(' ')}`,
    `space directions: ${directions.map(vector).join(' ')}`,
    'kinds: domain domain domain',
    'space units: "mm" "mm" "mm"',
    'encoding: gzip',
    `space origin: ${vector(originMm)}`,
    ...names.map((name, i) => `label ${i + 1}:=${name.replace(/[^\x20-\x7e]|\\/g, '?')}`),
    '',
    '',
  ].join('\n');
  const head = strToU8(header);
  const packed = deflated(values, 6, 'gzip');
  return joinedBytes([head, packed]);
}
