import { inflateSync } from 'node:zlib';
import { Resvg } from '@resvg/resvg-js';
import { readShelf } from '../../src/case/read-shelf.js';
import { measureCase } from '../../src/cli/measure/measure-case.js';
import { assembleResult } from '../../src/plan/assemble-result.js';
import { lesionPieces } from '../../src/report/figures/lesion-pieces.js';
import { type ViewInput, viewMarks, workingTargets } from '../../src/report/figures/rendered-views.js';
import type { Result } from '../../src/result/result.generated.js';
import type { TextBox } from './svg-texts.js';

/** What the rendered views of a demo case are made from. */
export async function drawnCase(name: string): Promise<{ result: Result; input: ViewInput }> {
  const measured = await measureCase(`cases/${name}`);
  const patientCase = measured.case;
  const shelf =
    patientCase.shelf && (await readShelf(patientCase.shelf.absolute, patientCase.shelf.relative));
  const findings = await measured.findings();
  const { result } = assembleResult({ ...measured, findings, shelf, version: '0.0.0' });
  const input: ViewInput = {
    parts: lesionPieces(result, measured.structures),
    frame: patientCase.surfaces?.frame ?? 'unknown',
    side: patientCase.lesion.side,
    marks: viewMarks(result),
    working: workingTargets(result),
  };
  return { result, input };
}

export interface Pixels {
  width: number;
  height: number;
  /** 4 bytes a pixel. */
  rgba: Uint8Array;
}

/** A figure drawn small and without its texts: fonts differ between machines. */
export function drawnSmall(svg: string, width: number): { pixels: Pixels; png: Uint8Array } {
  const image = new Resvg(svg, {
    fitTo: { mode: 'width', value: width },
    font: { loadSystemFonts: false },
  }).render();
  const pixels = { width: image.width, height: image.height, rgba: Uint8Array.from(image.pixels) };
  return { pixels, png: image.asPng() };
}

/** Reads a PNG of 8-bit RGBA without interlace (ISO/IEC 15948, clauses 7 and 9). */
export function readPng(png: Buffer): Pixels {
  const width = png.readUInt32BE(16);
  const height = png.readUInt32BE(20);
  if (png.subarray(24, 29).toString('hex') !== '0806000000') throw new Error('not 8-bit RGBA');
  const data: Buffer[] = [];
  for (let at = 8; at < png.length; at += 12 + png.readUInt32BE(at)) {
    if (png.toString('latin1', at + 4, at + 8) === 'IDAT')
      data.push(png.subarray(at + 8, at + 8 + png.readUInt32BE(at)));
  }
  const raw = inflateSync(Buffer.concat(data));
  const row = 4 * width;
  const rgba = new Uint8Array(row * height);
  for (let y = 0; y < height; y++) {
    const filter = raw[y * (row + 1)]!;
    for (let i = 0; i < row; i++) {
      const left = i >= 4 ? rgba[y * row + i - 4]! : 0;
      const up = y > 0 ? rgba[(y - 1) * row + i]! : 0;
      const corner = i >= 4 && y > 0 ? rgba[(y - 1) * row + i - 4]! : 0;
      const guess = [0, left, up, (left + up) >> 1, paeth(left, up, corner)][filter]!;
      rgba[y * row + i] = raw[y * (row + 1) + 1 + i]! + guess;
    }
  }
  return { width, height, rgba };
}

function paeth(a: number, b: number, c: number): number {
  const [pa, pb, pc] = [Math.abs(b - c), Math.abs(a - c), Math.abs(a + b - 2 * c)];
  return pa <= pb && pa <= pc ? a : pb <= pc ? b : c;
}

/** Mean absolute difference of the colours (0..255) and fraction of pixels that differ by more than 24 in any channel. */
export function difference(one: Pixels, other: Pixels): { mean: number; share: number } {
  if (one.width !== other.width || one.height !== other.height) return { mean: 255, share: 1 };
  let sum = 0;
  let differing = 0;
  for (let i = 0; i < one.rgba.length; i += 4) {
    let most = 0;
    for (let k = 0; k < 3; k++) {
      const d = Math.abs(one.rgba[i + k]! - other.rgba[i + k]!);
      sum += d;
      most = Math.max(most, d);
    }
    if (most > 24) differing += 1;
  }
  const count = one.rgba.length / 4;
  return { mean: sum / (3 * count), share: differing / count };
}

/** Pairs of texts whose boxes overlap. */
export function overlaps(
  boxes: readonly Pick<TextBox, 'text' | 'left' | 'right' | 'top' | 'bottom'>[],
): string[] {
  return boxes.flatMap((a, i) =>
    boxes
      .slice(i + 1)
      .filter((b) => a.left < b.right && b.left < a.right && a.top < b.bottom && b.top < a.bottom)
      .map((b) => `${a.text} / ${b.text}`),
  );
}
