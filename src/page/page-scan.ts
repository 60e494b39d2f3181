import { rounded } from '../foundation/number-text.js';
import type { Vec3 } from '../foundation/vector.js';
import { greyOf, WINDOW_TEXT } from '../report/figures/grey-image.js';
import { encodePng } from '../report/figures/png.js';
import type { GreyVolume } from '../volume/ct/grey-volume.js';
import { wholeValueAt } from '../witness/grey-picture.js';
import { lesionBox } from '../witness/scan-pictures.js';
import type { CaseSurface } from '../report/figures/lesion-pieces.js';
import type { PageFrame } from './page-data.js';
import type { PageScan, Triple } from './page-types.js';

/** Greatest number of voxels in the page: about half a megabyte of PNG. */
const MOST_VOXELS = 800_000;
const FINEST_MM = 0.6;
const ABOUT_MM = 8;
/** Greys are rounded to every fourth of 256 levels: noise below 25 HU does not matter on the page but would take up most of the bytes. */
const GREY_STEP = 4;

/** The scan around the lesion on a grid that fits the page's budget; undefined if there is no lesion to show. */
export function pageScan(
  volume: GreyVolume,
  structures: readonly CaseSurface[],
  frame: PageFrame,
): PageScan | undefined {
  const box = lesionBox(structures, frame);
  if (!box) return undefined;
  const { low, high } = box;
  const origin = low.map((x) => rounded(x - ABOUT_MM, 2)) as Vec3;
  const sides = low.map((x, k) => high[k] - x + 2 * ABOUT_MM);
  const stepMm = rounded(
    Math.max(FINEST_MM, Math.cbrt((sides[0] * sides[1] * sides[2]) / MOST_VOXELS)) + 0.005,
    2,
  );
  const size = sides.map((side) => Math.max(1, Math.floor(side / stepMm))) as Triple;
  const [columns, rows, slices] = size;
  const across = Math.ceil(Math.sqrt((slices * rows) / columns));
  const down = Math.ceil(slices / across);
  const width = across * columns;
  const grey = new Uint8Array(width * down * rows);
  for (let k = 0; k < slices; k++) {
    const corner = Math.floor(k / across) * rows * width + (k % across) * columns;
    for (let j = 0; j < rows; j++)
      for (let i = 0; i < columns; i++) {
        const value = wholeValueAt(
          volume,
          origin[0] + i * stepMm,
          origin[1] + j * stepMm,
          origin[2] + k * stepMm,
        );
        grey[corner + j * width + i] = Math.floor(greyOf(value) / GREY_STEP) * GREY_STEP;
      }
  }
  const png = Buffer.from(encodePng(grey, width, down * rows, 1)).toString('base64');
  return { origin, stepMm, size, across, tiles: `data:image/png;base64,${png}`, windowText: WINDOW_TEXT };
}
