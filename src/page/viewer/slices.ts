import { cross, dot } from '../../foundation/vector.js';
import { type PicturePlane, planeOutline } from '../../geometry/plane-outline.js';
import type { PageScan, ShownStructure, Triple } from '../page-types.js';
import { byId } from './dom.js';
import { type Place, placeText } from './reading.js';
import { indicesOf, positionsOf } from './surfaces.js';

/** How far a slice reaches from the place, mm. */
const REACH_MM = 20;
const BAR_MM = 10;
const LETTERS = ['LR', 'PA', 'HF'] as const;
/** A component of a direction below this, the sine of 15 degrees, gets no letter, as in the figures of the plan. */
const LETTER_FROM = 0.26;

/** Two slices of the scan at a place of a vessel, across it and along it, with the outlines of the drawn surfaces. */
export class Slices {
  private readonly scan: PageScan;
  private readonly structures: readonly ShownStructure[];
  private readonly outlines: { positions: Float32Array; triangles: Uint32Array; colour: string }[];
  private grey: Uint8Array | undefined;
  private place: Place | undefined;
  private waiting = false;

  constructor(scan: PageScan, structures: readonly ShownStructure[]) {
    this.scan = scan;
    this.structures = structures;
    this.outlines = this.structures.map((one) => ({
      positions: positionsOf(one),
      triangles: indicesOf(one),
      colour: one.colour,
    }));
    const picture = new Image();
    picture.addEventListener('load', () => {
      this.grey = greyOf(picture, scan);
      this.draw();
    });
    picture.src = scan.tiles;
  }

  /** Shows the slices at a place; drawn with the next frame, so that a fast pointer does not queue up drawings. */
  show(place: Place): void {
    this.place = place;
    if (this.waiting) return;
    this.waiting = true;
    requestAnimationFrame(() => {
      this.waiting = false;
      this.draw();
    });
  }

  private draw(): void {
    const { place, grey } = this;
    if (!place || !grey) return;
    byId('slices').hidden = false;
    const down = across(place.along);
    const side = cross(down, place.along);
    const text = placeText(place);
    this.slice('slice-across', { centre: place.point, right: side, down }, `Across ${text}`);
    this.slice('slice-along', { centre: place.point, right: place.along, down }, `Along ${text}`);
  }

  private slice(id: string, plane: PicturePlane, text: string): void {
    const canvas = byId<HTMLCanvasElement>(id);
    const ink = canvas.getContext('2d');
    if (!ink || !this.grey) return;
    canvas.setAttribute('aria-label', text);
    const { width, height } = canvas;
    const perMm = width / (2 * REACH_MM);
    const image = ink.createImageData(width, height);
    for (let j = 0; j < height; j++)
      for (let i = 0; i < width; i++) {
        const [u, v] = [(i + 0.5) / perMm - REACH_MM, (j + 0.5) / perMm - REACH_MM];
        const { centre: c, right: r, down: d } = plane;
        const value = sampled(this.grey, this.scan, [
          c[0] + u * r[0] + v * d[0],
          c[1] + u * r[1] + v * d[1],
          c[2] + u * r[2] + v * d[2],
        ]);
        image.data.set([value, value, value, 255], 4 * (j * width + i));
      }
    ink.putImageData(image, 0, 0);
    ink.lineWidth = 1.6;
    for (const { positions, triangles, colour } of this.outlines) {
      const path = new Path2D();
      for (const line of planeOutline({ positions, triangles }, plane, REACH_MM * 1.1))
        for (let k = 0; k < line.length; k += 2) {
          const [x, y] = [(line[k] + REACH_MM) * perMm, (line[k + 1] + REACH_MM) * perMm];
          if (k === 0) path.moveTo(x, y);
          else path.lineTo(x, y);
        }
      // a light outline, so that dark lines stay visible on dark lung
      ink.strokeStyle = 'rgba(255, 255, 255, 0.75)';
      ink.lineWidth = 3;
      ink.stroke(path);
      ink.strokeStyle = colour;
      ink.lineWidth = 1.6;
      ink.stroke(path);
    }
    words(ink, plane, width, height, perMm);
  }
}

/** A direction perpendicular to another: towards the feet, or towards the back if the other runs along the body. */
function across(along: Triple): Triple {
  const low: Triple = Math.abs(along[2]) < 0.8 ? [0, 0, -1] : [0, 1, 0];
  const part = dot(low, along);
  const rest = low.map((x, k) => x - part * along[k]) as Triple;
  const size = Math.hypot(...rest);
  return rest.map((x) => x / size) as Triple;
}

/** Reads the grid from the picture that holds it. */
function greyOf(picture: HTMLImageElement, { size, across: tiles }: PageScan): Uint8Array {
  const [columns, rows, slices] = size;
  const sheet = document.createElement('canvas');
  sheet.width = picture.naturalWidth;
  sheet.height = picture.naturalHeight;
  const ink = sheet.getContext('2d', { willReadFrequently: true });
  const grey = new Uint8Array(columns * rows * slices);
  if (!ink) return grey;
  ink.drawImage(picture, 0, 0);
  const { data, width } = ink.getImageData(0, 0, sheet.width, sheet.height);
  for (let k = 0; k < slices; k++) {
    const corner = Math.floor(k / tiles) * rows * width + (k % tiles) * columns;
    for (let j = 0; j < rows; j++)
      for (let i = 0; i < columns; i++)
        grey[(k * rows + j) * columns + i] = data[4 * (corner + j * width + i)];
  }
  return grey;
}

/** Trilinear interpolation at a point; black outside the grid. */
function sampled(grey: Uint8Array, { origin, stepMm, size }: PageScan, point: Triple): number {
  const at = point.map((x, k) => (x - origin[k]) / stepMm);
  if (!at.every((x, k) => x >= 0 && x < size[k] - 1)) return 0;
  const [i, j, k] = at.map(Math.floor);
  const [u, v, w] = [at[0] - i, at[1] - j, at[2] - k];
  const [nx, slice] = [size[0], size[0] * size[1]];
  let n = k * slice + j * nx + i;
  const low = mix(mix(grey[n], grey[n + 1], u), mix(grey[n + nx], grey[n + nx + 1], u), v);
  n += slice;
  return mix(low, mix(mix(grey[n], grey[n + 1], u), mix(grey[n + nx], grey[n + nx + 1], u), v), w);
}

const mix = (a: number, b: number, t: number): number => a + t * (b - a);

/** Letters of the patient's axes at the edges, and a bar of 10 mm. */
function words(
  ink: CanvasRenderingContext2D,
  { right, down }: PicturePlane,
  width: number,
  height: number,
  perMm: number,
): void {
  ink.font = 'bold 13px sans-serif';
  const write = (text: string, x: number, y: number, align: CanvasTextAlign): void => {
    ink.textAlign = align;
    ink.strokeStyle = '#000000';
    ink.lineWidth = 3;
    ink.strokeText(text, x, y);
    ink.fillStyle = '#ffffff';
    ink.fillText(text, x, y);
  };
  const back = (d: Triple): Triple => [-d[0], -d[1], -d[2]];
  write(lettersOf(back(right)), 5, height / 2 + 4, 'left');
  write(lettersOf(right), width - 5, height / 2 + 4, 'right');
  write(lettersOf(back(down)), width / 2, 16, 'center');
  write(lettersOf(down), width / 2, height - 7, 'center');
  const from = width - 12 - BAR_MM * perMm;
  ink.fillStyle = '#ffffff';
  ink.fillRect(from, height - 12, BAR_MM * perMm, 3);
  write(`${BAR_MM} mm`, width - 12, height - 17, 'right');
}

function lettersOf(direction: Triple): string {
  return direction
    .map((part, k) => ({ part, k }))
    .filter(({ part }) => Math.abs(part) >= LETTER_FROM)
    .sort((a, b) => Math.abs(b.part) - Math.abs(a.part) || a.k - b.k)
    .map(({ part, k }) => LETTERS[k][part > 0 ? 0 : 1])
    .join('');
}
