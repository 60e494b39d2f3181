/** A surface from five sides, coloured by its distance from another surface. */
import { fixed } from '../../foundation/number-text.js';
import { add, scale, subtract } from '../../foundation/vector.js';
import { jointBox } from '../../mesh/measures.js';
import type { TriangleMesh } from '../../mesh/mesh.js';
import { cutIntoBands } from './colour-bands.js';
import type { Figure } from './figures.js';
import { COLOURS, DIVERGING, MUTED } from './palette.js';
import { rasterise } from './raster.js';
import type { Pattern } from './raster-ink.js';
import { type Box, element, figure, label, wrapText } from './svg.js';
import { sideViews, type View, type ViewFrame } from './view-axes.js';
import {
  drawnSvg,
  imageSvg,
  lettersSvg,
  projectionOf,
  rgbOf,
  scaleBar,
  swatch,
  panelFrame,
  panelTitle,
} from './view-parts.js';

/** A surface with a signed distance on every vertex. */
export interface DeviationPiece {
  mesh: TriangleMesh;
  /** mm, one per vertex. */
  signedMm: Float64Array;
  /** Limit beyond which the surface is striped, mm, one per vertex; absent: no stripes. */
  limitMm?: Float64Array;
}

export interface DeviationInput {
  /** File name with extension. */
  name: string;
  title: string;
  pieces: readonly DeviationPiece[];
  /** Surfaces without a distance, drawn in grey. */
  plain?: readonly TriangleMesh[];
  /** Edges of the colour bands on one side of zero, mm, ascending, limits included; four at most. */
  levelsMm: readonly number[];
  /** The limit that the colour bar shows, mm. */
  barLimitMm?: number;
  /** Distance beyond which the other surface counts as absent, mm. */
  reachMm?: number;
  frame: ViewFrame;
  side?: 'left' | 'right';
  words: {
    /** What positive and negative distances mean. */
    outside: string;
    inside: string;
    /** What stripes mean. */
    striped?: string;
    /** What grey with dots, beyond the reach, means. */
    beyond?: string;
    plain?: string;
  };
  notes: readonly string[];
}

const PANEL = { width: 370, height: 300, model: 225 };
const COLUMNS = 3;
const TOP = 42;
const GREY = '#9a9a9a';

interface Painted {
  mesh: TriangleMesh;
  colour: string;
  pattern?: Pattern;
}

/** The views as one SVG with embedded pictures: colour bands separated by dark lines, and stripes where out of tolerance. */
export function deviationFigure(input: DeviationInput): Figure {
  const painted = paintedPieces(input);
  const all = middleAndSize([...input.pieces.map(({ mesh }) => mesh), ...(input.plain ?? [])]);
  const perMm = PANEL.model / Math.max(...all.size, 1e-6);
  const views = sideViews(input.frame, input.side);
  const rowHeight = PANEL.height + 46;
  const cell = (i: number): Box => {
    const left = 10 + (i % COLUMNS) * PANEL.width;
    const top = TOP + Math.floor(i / COLUMNS) * rowHeight;
    return { left, right: left + PANEL.width, top, bottom: top + PANEL.height };
  };
  const { words } = input;
  const alt = `${input.title}, from ${views.length} sides: ${views.map((view) => view.title).join('; ')}. ${sentence(words.outside)}: positive, red; ${words.inside}: negative, blue.`;
  const key = cell(views.length);
  const bar = colourBar(input, key.left + 30, key.top + 6, perMm);
  const svg = figure(
    input.name.replace(/\.svg$/, ''),
    { width: 20 + COLUMNS * PANEL.width, height: Math.max(TOP + 2 * rowHeight, bar.bottom) },
    { title: input.title, desc: alt },
    label(input.title, 20, 26, { size: 16, bold: true }),
    ...views.map((view, i) => panelSvg(view, cell(i), perMm, all.centre, painted)),
    bar.svg,
  );
  return { name: input.name, svg, alt };
}

const sentence = (text: string): string => `${text.charAt(0).toUpperCase()}${text.slice(1)}`;

/** Band edges on both sides of zero. */
const edgesOf = (levelsMm: readonly number[]): number[] => [
  ...levelsMm.map((level) => -level).toReversed(),
  ...levelsMm,
];

/** Colours of the bands, from the most negative to the most positive. */
function coloursOf(levelsMm: readonly number[]): string[] {
  const middle = (DIVERGING.length - 1) / 2;
  const n = levelsMm.length;
  return Array.from({ length: 2 * n + 1 }, (_, i) => {
    const step = i - n;
    return DIVERGING[middle + Math.sign(step) * Math.round((Math.abs(step) / n) * middle)]!;
  });
}

function paintedPieces({ pieces, plain = [], levelsMm, reachMm }: DeviationInput): Painted[] {
  const edges = edgesOf(levelsMm);
  const colours = coloursOf(levelsMm);
  const painted: Painted[] = plain.map((mesh) => ({ mesh, colour: '#d9d9d9' }));
  const cut = reachMm === undefined ? edges : [-reachMm, ...edges, reachMm];
  for (const { mesh, signedMm, limitMm } of pieces) {
    const limits = [...new Set(limitMm ?? [Number.POSITIVE_INFINITY])].toSorted((a, b) => a - b);
    for (const limit of limits) {
      const isHere = (t: number): boolean =>
        limitMm === undefined || limitMm[mesh.triangles[3 * t]!] === limit;
      const bands = cutIntoBands(mesh, signedMm, cut, isHere);
      const inner = reachMm === undefined ? bands : bands.slice(1, -1);
      for (const [i, band] of inner.entries()) {
        const pattern = patternOf(i, levelsMm, limit);
        if (band.triangles.length > 0)
          painted.push({ mesh: band, colour: colours[i]!, ...(pattern && { pattern }) });
      }
      if (reachMm !== undefined)
        for (const band of [bands[0]!, bands.at(-1)!])
          if (band.triangles.length > 0) painted.push({ mesh: band, colour: GREY, pattern: 'dots' });
    }
  }
  return painted;
}

/** Stripes for a band beyond the limit: rising outside, falling inside. */
function patternOf(band: number, levelsMm: readonly number[], limitMm: number): Pattern | undefined {
  const step = band - levelsMm.length;
  const inner = Math.abs(step) > 0 ? levelsMm[Math.abs(step) - 1]! : 0;
  if (inner < limitMm - 1e-9) return undefined;
  return step > 0 ? 'rising' : 'falling';
}

function middleAndSize(meshes: readonly TriangleMesh[]): {
  centre: [number, number, number];
  size: number[];
} {
  const { low, high } = jointBox(meshes);
  return { centre: scale(add(low, high), 0.5), size: subtract(high, low) };
}

function panelSvg(
  view: View,
  box: Box,
  perMm: number,
  centre: [number, number, number],
  painted: readonly Painted[],
): string {
  const middle = { x: PANEL.width / 2, y: PANEL.height / 2 };
  const picture = rasterise(
    painted.map(({ mesh, colour, pattern }) => ({
      mesh,
      colour: rgbOf(colour),
      ...(pattern && { pattern }),
    })),
    projectionOf(view, centre, perMm, middle),
    PANEL.width,
    PANEL.height,
  );
  return [
    drawnSvg(picture, box.left, box.top),
    panelFrame(box),
    lettersSvg(view, box),
    panelTitle(view.title, box),
  ].join('');
}

const STEP = 21;
const SWATCH_WIDTH = 34;

/** The colour bar, largest distance first, with the value at every edge, then the rest of the legend. */
function colourBar(
  input: DeviationInput,
  x: number,
  top: number,
  perMm: number,
): { svg: string; bottom: number } {
  const { levelsMm, words, barLimitMm = Number.POSITIVE_INFINITY } = input;
  const edges = edgesOf(levelsMm);
  const colours = coloursOf(levelsMm);
  const count = colours.length;
  const parts = [label('Distance, mm', x, top + 8, { size: 12, bold: true })];
  const barTop = top + 18;
  for (let row = 0; row < count; row++) {
    const band = count - 1 - row;
    const y = barTop + row * STEP;
    parts.push(sample(x, y, colours[band]!, patternOf(band, levelsMm, barLimitMm)));
    const edge = edges[band - 1];
    if (edge !== undefined)
      parts.push(
        label(`${edge > 0 ? '+' : '−'}${fixed(Math.abs(edge), 2)}`, x + SWATCH_WIDTH + 8, y + STEP + 4, {
          size: 11,
        }),
      );
  }
  const wordsX = x + SWATCH_WIDTH + 56;
  parts.push(
    ...wrapText(words.outside, 200, 2, 12).map((text, i) =>
      label(text, wordsX, barTop + 12 + 15 * i, { size: 12 }),
    ),
    ...wrapText(words.inside, 200, 2, 12).map((text, i) =>
      label(text, wordsX, barTop + count * STEP - 18 + 15 * i, { size: 12 }),
    ),
  );
  let y = barTop + count * STEP + 14;
  const entry = (text: string | undefined, colour: string, pattern?: Pattern): void => {
    if (text === undefined) return;
    const lines = wrapText(text, 270, 4, 12);
    parts.push(sample(x, y - 8, colour, pattern));
    for (const [i, one] of lines.entries())
      parts.push(label(one, x + SWATCH_WIDTH + 8, y + 6 + 15 * i, { size: 12 }));
    y += Math.max(26, 15 * lines.length + 8);
  };
  entry(words.striped, '#f7f7f7', 'rising');
  entry(words.beyond, GREY, 'dots');
  entry(words.plain, '#d9d9d9');
  parts.push(scaleBar(perMm, PANEL.model / 3, x, y));
  y += 22;
  const notes = [
    ...(input.frame === 'unknown' ? ['Letters: the axes of the file.'] : []),
    'One scale, parallel projection.',
    ...input.notes.flatMap((note) => wrapText(note, 300, 3, 11)),
  ];
  for (const note of notes) {
    parts.push(label(note, x, y, { size: 11, fill: MUTED }));
    y += 14;
  }
  return { svg: parts.join(''), bottom: y };
}

const sample = (x: number, y: number, colour: string, pattern?: Pattern): string =>
  imageSvg(swatch(colour, pattern, SWATCH_WIDTH, STEP), {
    left: x,
    right: x + SWATCH_WIDTH,
    top: y,
    bottom: y + STEP,
  }) + element('rect', { x, y, width: SWATCH_WIDTH, height: STEP, fill: 'none', stroke: COLOURS.black });
