import { createHash } from 'node:crypto';
import { readFileSync, writeFileSync } from 'node:fs';
import { inflateSync } from 'node:zlib';
import { Resvg } from '@resvg/resvg-js';
import { beforeAll, describe, expect, test } from 'vitest';
import { cross, dot, type Vec3 } from '../../src/foundation/vector.js';
import type { TriangleMesh } from '../../src/mesh/mesh.js';
import { figuresOf } from '../../src/report/figures/figures.js';
import { encodePng } from '../../src/report/figures/png.js';
import { rasterise, rasteriseDeep, withMargins } from '../../src/report/figures/raster.js';
import { type Pattern, patterned } from '../../src/report/figures/raster-ink.js';
import type { Projection } from '../../src/report/figures/raster-samples.js';
import {
  renderedViews,
  type ViewInput,
  viewMarks,
  workingTargets,
} from '../../src/report/figures/rendered-views.js';
import { armView, directionLetters, sideViews } from '../../src/report/figures/view-axes.js';
import { placeLabels, segmentsCross } from '../../src/report/figures/view-labels.js';
import type { Result } from '../../src/result/result.generated.js';
import { difference, drawnCase, drawnSmall, overlaps, readPng } from './drawn-cases.js';
import { twoFeeders } from './fixtures.js';
import { expectGolden } from './golden.js';
import { textBoxes } from './svg-texts.js';

/** A sphere by latitude and longitude. */
function sphere(centre: [number, number, number], radius: number, n = 48): TriangleMesh {
  const positions: number[] = [];
  const triangles: number[] = [];
  for (let i = 0; i <= n; i++) {
    for (let j = 0; j < n; j++) {
      const [a, b] = [(Math.PI * i) / n, (2 * Math.PI * j) / n];
      positions.push(
        centre[0] + radius * Math.sin(a) * Math.cos(b),
        centre[1] + radius * Math.sin(a) * Math.sin(b),
        centre[2] + radius * Math.cos(a),
      );
      if (i === n) continue;
      const [p, q] = [i * n + j, i * n + ((j + 1) % n)];
      triangles.push(p, p + n, q, q, p + n, q + n);
    }
  }
  return { positions: Float64Array.from(positions), triangles: Uint32Array.from(triangles) };
}

/** The pictures of a figure, without the small ones in its legend. */
const drawnPictures = (svg: string): { width: number; height: number; href: string }[] =>
  [...svg.matchAll(/<image x="[^"]+" y="[^"]+" width="(\d+)" height="(\d+)" href="([^"]+)"/g)]
    .map(([, width, height, href]) => ({ width: Number(width), height: Number(height), href: href! }))
    .filter(({ height }) => height > 14);

/** 2 pixels per mm, the origin in the middle of 100 x 100 pixels, seen along z. */
const STRAIGHT: Projection = [
  [2, 0, 0, 50],
  [0, 2, 0, 50],
  [0, 0, 2, 0],
];

/** The pixels of a picture of 100 x 100, 3 bytes each. */
const drawn = (parts: Parameters<typeof rasterise>[0]): Uint8Array =>
  withMargins(rasterise(parts, STRAIGHT, 100, 100), 100, 100);

const RED = [200, 0, 0] as const;
const BLUE = [0, 0, 200] as const;

describe('rasterise', () => {
  test('a sphere covers the disc of its radius', () => {
    const pixels = drawn([{ mesh: sphere([0, 0, 0], 15), colour: RED }]);
    let covered = 0;
    for (let i = 0; i < pixels.length; i += 3) covered += (255 - pixels[i + 2]!) / 255;
    // Blue is 255 on white and 0 on the sphere. An inscribed polygon of 48 sides has 0.9971 of its circle's area.
    expect(covered / (Math.PI * 30 ** 2)).toBeCloseTo(0.9971, 2);
  });

  test('the nearer of two spheres hides the other, whatever the order', () => {
    const near = { mesh: sphere([0, 0, -20], 8), colour: RED };
    const far = { mesh: sphere([0, 0, 20], 8), colour: BLUE };
    const pixels = drawn([near, far]);
    expect(drawn([far, near])).toEqual(pixels);
    const centre = 3 * (50 * 100 + 50);
    expect([...pixels.slice(centre, centre + 3)]).toEqual([expect.any(Number), 0, 0]);
    expect(pixels[centre]).toBeGreaterThan(190);
  });

  test('what lies outside the picture, or has no area, is left out', () => {
    const outside = { mesh: sphere([500, 0, 0], 8), colour: RED };
    const flat = {
      mesh: { positions: new Float64Array(9), triangles: Uint32Array.from([0, 1, 2]) },
      colour: RED,
    };
    expect(drawn([outside, flat]).every((value) => value === 255)).toBe(true);
  });
});

describe('encodePng', () => {
  test('another decoder reads the pixels back', () => {
    const rgb = Uint8Array.from({ length: 3 * 7 * 5 }, (_, i) => (i * 37) % 256);
    const png = encodePng(rgb, 7, 5);
    const svg = `<svg xmlns="http://www.w3.org/2000/svg" width="7" height="5"><image width="7" height="5" image-rendering="pixelated" href="data:image/png;base64,${Buffer.from(png).toString('base64')}"/></svg>`;
    const image = new Resvg(svg).render();
    const read = [...image.pixels].filter((_, i) => i % 4 !== 3);
    expect(read).toEqual([...rgb]);
  });

  test('chunks have the lengths and CRC of the standard', () => {
    const png = Buffer.from(encodePng(Uint8Array.from([0, 0, 1]), 1, 1));
    expect(png.subarray(0, 8).toString('hex')).toBe('89504e470d0a1a0a');
    // CRC of an empty IEND chunk: ae426082, as in every PNG file (ISO/IEC 15948).
    expect(png.subarray(-12).toString('hex')).toBe('0000000049454e44ae426082');
    const length = png.readUInt32BE(33);
    expect([...inflateSync(png.subarray(41, 41 + length))]).toEqual([0, 0, 0, 1]);
  });

  test('refuses a wrong size', () => {
    expect(() => encodePng(new Uint8Array(4), 1, 1)).toThrow(RangeError);
  });
});

describe('patterns', () => {
  const patterns: Pattern[] = ['rising', 'falling', 'level', 'upright', 'dots'];
  const grey = ([r, g, b]: readonly [number, number, number]): number => 0.3 * r + 0.59 * g + 0.11 * b;

  test('no two are alike, and each stands out in grey on a dark and on a light colour', () => {
    const fields = patterns.map((pattern) =>
      Array.from({ length: 1024 }, (_, i) => grey(patterned([0, 114, 178], pattern, i % 32, i >> 5))),
    );
    expect(new Set(fields.map(String)).size).toBe(patterns.length);
    for (const colour of [
      [0, 114, 178],
      [240, 228, 66],
    ] as const)
      for (const pattern of patterns) {
        const values = Array.from({ length: 1024 }, (_, i) =>
          grey(patterned(colour, pattern, i % 32, i >> 5)),
        );
        expect(Math.max(...values) - Math.min(...values)).toBeGreaterThan(50);
      }
  });

  test('the edge between a near and a far part of one surface is dark', () => {
    const two = {
      positions: Float64Array.from([-20, -20, 0, 0, -20, 0, 0, 20, 0, 0, -20, 30, 20, -20, 30, 0, 20, 30]),
      triangles: Uint32Array.from([0, 1, 2, 3, 4, 5]),
    };
    const pixels = drawn([{ mesh: two, colour: RED }]);
    const { depthAt } = rasteriseDeep([{ mesh: two, colour: RED }], STRAIGHT, 100, 100);
    const red = (x: number, y: number): number => pixels[3 * (100 * y + x)]!;
    expect(red(45, 30)).toBe(200);
    expect(red(49, 30)).toBeLessThan(150);
    expect(depthAt(45.5, 30.5)).toBeCloseTo(0, 6);
    expect(depthAt(52.5, 30.5)).toBeCloseTo(60, 6);
    expect(depthAt(-1, 30)).toBe(Number.POSITIVE_INFINITY);
  });
});

describe('directions', () => {
  const views = [
    ...sideViews('LPS', 'left'),
    ...sideViews('LPS', 'right'),
    ...[
      [0, 0],
      [30, 20],
      [-34, 29],
      [90, -40],
    ].map(([a, b]) => armView('arm', 'LPS', a!, b!)),
  ];

  test('right, down and away are orthogonal unit vectors, not mirrored', () => {
    for (const { right, down, away } of views) {
      for (const [k, value] of cross(right, down).entries()) expect(value).toBeCloseTo(away[k]!, 12);
      expect(dot(right, right)).toBeCloseTo(1, 12);
      expect(dot(right, down)).toBeCloseTo(0, 12);
    }
  });

  // Radiographic convention, common practice: the patient faces the viewer in the PA and AP views, so the patient's right is
  // on the viewer's left; axial CT is seen from the feet; a left lateral view has the front on the left.
  test('side letters follow the radiographic convention', () => {
    const letters = (side: 'left' | 'right'): string[] =>
      sideViews('LPS', side).map(
        ({ title, letters: l }) => `${title.split(':')[0]} ${l.left}${l.right}${l.top}${l.bottom}`,
      );
    expect(letters('left')).toEqual([
      'anterior RLHF',
      'posterior LRHF',
      'lateral APHF',
      'medial PAHF',
      'from below, front to the top, as on axial CT RLAP',
    ]);
    expect(letters('right').slice(2, 4)).toEqual(['lateral PAHF', 'medial APHF']);
    expect(sideViews('RAS', 'left').map((view) => view.letters)).toEqual(
      sideViews('LPS', 'left').map((view) => view.letters),
    );
  });

  // DICOM PS3.3, positioner angles (from memory): 0/0 detector in front, LAO 90 detector at the patient's left.
  test('the detector is where the angles say', () => {
    const towards = (a: number, b: number): number[] =>
      armView('', 'LPS', a, b).away.map((value) => Math.round(-1000 * value) / 1000 + 0);
    expect(towards(0, 0)).toEqual([0, -1, 0]);
    expect(towards(90, 0)).toEqual([1, 0, 0]);
    expect(towards(-30, 0)).toEqual([-0.5, -0.866, 0]);
    expect(towards(0, 30)).toEqual([0, -0.866, 0.5]);
    for (const [a, b] of [
      [20, 40],
      [-60, -35],
    ] as const) {
      // Head up: no other up direction of this view points more towards the head.
      const { down, away } = armView('', 'LPS', a, b);
      expect(-down[2]).toBeCloseTo(Math.sqrt(1 - away[2] ** 2), 12);
    }
    expect(armView('', 'LPS', 0, 0).letters).toEqual({ left: 'R', right: 'L', top: 'H', bottom: 'F' });
    expect(directionLetters([0.5, -0.8, 0.2])).toBe('AL');
    expect(directionLetters([0, -1, 0], false)).toBe('−y');
  });
});

describe('placeLabels', () => {
  const area = { left: 20, right: 420, top: 10, bottom: 310 };

  test('boxes stay apart and inside, leaders do not cross, in many arrangements', () => {
    let seed = 7;
    const random = (): number => {
      seed = (seed * 1103515245 + 12345) % 2147483648;
      return seed / 2147483648;
    };
    for (let round = 0; round < 200; round++) {
      const points = Array.from({ length: 1 + (round % 16) }, (_, i) => ({
        text: `vessel ${i}`,
        x: 130 + 180 * random(),
        y: round % 3 === 0 ? 300 : 20 + 280 * random(),
      }));
      const { placed, leftOut } = placeLabels(points, area, 100);
      expect(leftOut).toBe(0);
      expect(placed.map(({ text }) => text).sort()).toEqual(points.map(({ text }) => text).sort());
      expect(overlaps(placed.map(({ text, box }) => ({ text, ...box })))).toEqual([]);
      for (const { box } of placed) {
        expect(box.left).toBeGreaterThanOrEqual(area.left);
        expect(box.right).toBeLessThanOrEqual(area.right);
        expect(box.top).toBeGreaterThanOrEqual(area.top);
        expect(box.bottom).toBeLessThanOrEqual(area.bottom + 1e-9);
      }
      for (const [i, a] of placed.entries())
        for (const b of placed.slice(i + 1))
          if (a.onRight === b.onRight) expect(segmentsCross(a, a.end, b, b.end)).toBe(false);
    }
  });

  test('what does not fit into two columns is counted, not overprinted', () => {
    const points = Array.from({ length: 60 }, (_, i) => ({ text: `v${i}`, x: 150, y: 20 + i }));
    const { placed, leftOut } = placeLabels(points, area, 100);
    expect([placed.length, leftOut]).toEqual([40, 20]);
    expect(overlaps(placed.map(({ text, box }) => ({ text, ...box })))).toEqual([]);
  });
});

describe('renderedViews', () => {
  const parts = [
    { role: 'sac', mesh: sphere([0, 0, 0], 10) },
    { role: 'feeder', mesh: sphere([20, 0, 6], 4) },
    { role: 'drain', mesh: sphere([-10, 14, -8], 5) },
    { role: 'heart', mesh: sphere([0, 0, 0], 500) },
  ];
  const marks = [
    { text: 'A1', atMm: [23, 0, 7] as Vec3, insideMm: 4 },
    { text: 'A1 landing', atMm: [20, 0, 6] as Vec3, insideMm: 4 },
    { text: 'V1', atMm: [-10, 14, -8] as Vec3, insideMm: 4 },
  ];

  const sides = (input: ViewInput) => renderedViews(input)[0]!;

  test('shows five sides with names, the same bytes each time', () => {
    const views = sides({ parts, frame: 'LPS', side: 'left', marks });
    expect(views.svg).toBe(sides({ parts, frame: 'LPS', side: 'left', marks }).svg);
    expect(drawnPictures(views.svg)).toHaveLength(5);
    expect(views.svg.match(/>A1 landing</g)).toHaveLength(5);
    for (const title of ['anterior', 'posterior', 'lateral: from the left', 'medial: from the right'])
      expect(views.alt).toContain(title);
    expect(views.svg).toContain('from the left, front to the left');
    expect(views.alt).not.toContain('heart');
    expect(new Resvg(views.svg).render().width).toBe(1130);
    if (process.env.DUMP_VIEWS) writeFileSync(process.env.DUMP_VIEWS, new Resvg(views.svg).render().asPng());
  });

  test('RAS coordinates of the same lesion give the same pictures as LPS', () => {
    const turned = parts.map(({ role, mesh }) => ({
      role,
      mesh: { ...mesh, positions: mesh.positions.map((value, i) => (i % 3 === 2 ? value : -value)) },
    }));
    const pictures = (svg: string): string =>
      createHash('sha256')
        .update((svg.match(/base64,[^"]+/g) ?? []).join())
        .digest('hex');
    const lps = sides({ parts, frame: 'LPS', marks: [] });
    const ras = sides({ parts: turned, frame: 'RAS', marks: [] });
    expect(pictures(ras.svg)).toBe(pictures(lps.svg));
    expect(pictures(sides({ parts: turned, frame: 'LPS', marks: [] }).svg)).not.toBe(pictures(lps.svg));
  });

  test('the patient’s left is on the right of the front view', () => {
    const svg = sides({ parts, frame: 'LPS', marks: [marks[0]!] }).svg;
    const x = Number(/<circle cx="([\d.]+)"/.exec(svg)?.[1]);
    expect(x).toBeGreaterThan(10 + 370 / 2);
  });

  test('a name whose point is hidden has a dashed leader', () => {
    const behind = { text: 'hid', atMm: [0, 18, 0] as Vec3, insideMm: 1 };
    const { svg } = sides({ parts: [parts[0]!], frame: 'LPS', side: 'left', marks: [behind] });
    // From the front the sphere is in front of it; from the back, the sides and below it is not.
    expect(svg.match(/stroke-dasharray="4 3"/g)).toHaveLength(1);
  });

  test('an unknown frame claims no patient direction', () => {
    const { alt } = sides({ parts, frame: 'unknown', side: 'right', marks: [] });
    expect(alt).toContain('seen along the y axis; patient directions unknown');
    expect(alt).not.toMatch(/front|left|right|CT/);
  });

  test('no figure without a surface of the lesion', () => {
    expect(renderedViews({ parts: [parts[3]!], frame: 'LPS', marks })).toEqual([]);
    expect(renderedViews({ parts: [], frame: 'LPS', marks })).toEqual([]);
  });

  test('marks come from centrelines and landing zones', () => {
    const result = twoFeeders();
    result.vessels.A1!.centreline_mm = [
      [1, 2, 3],
      [4, 5, 6],
    ];
    result.vessels.A2!.landing!.centre_mm = [7, 8, 9];
    const inside = (name: string): number => result.vessels[name]!.calibre_mm.max;
    expect(viewMarks(result)).toEqual([
      { text: 'A1', atMm: [1, 2, 3], insideMm: inside('A1') },
      { text: 'A2 landing', atMm: [7, 8, 9], insideMm: inside('A2') },
    ]);
  });
});

const CASES = ['plover', 'plover-whole', 'heron', 'wren', 'osprey', 'curlew'];

/** Leaders as drawn: thin black lines. */
const leadersOf = (svg: string): { x: number; y: number; end: { x: number; y: number } }[] =>
  [
    ...svg.matchAll(
      /<line x1="([-\d.]+)" y1="([-\d.]+)" x2="([-\d.]+)" y2="([-\d.]+)" stroke="#000000" stroke-width="0.9"/g,
    ),
  ].map(([, x, y, x2, y2]) => ({ x: Number(x), y: Number(y), end: { x: Number(x2), y: Number(y2) } }));

/** Whether a leader runs through a box. */
function runsThrough(
  { x, y, end }: { x: number; y: number; end: { x: number; y: number } },
  box: { left: number; right: number; top: number; bottom: number },
): boolean {
  return Array.from({ length: 401 }, (_, i) => i / 400).some((t) => {
    const [px, py] = [x + (end.x - x) * t, y + (end.y - y) * t];
    return px > box.left && px < box.right && py > box.top && py < box.bottom;
  });
}

describe('demo cases', () => {
  const inputs: Record<string, ViewInput> = {};
  const results: Record<string, Result> = {};
  beforeAll(async () => {
    for (const name of CASES) {
      const { input, result } = await drawnCase(name);
      inputs[name] = input;
      results[name] = result;
    }
  }, 120_000);

  test.each(CASES)('%s: one file for the sides, one for each landing zone, no overlapping text', (name) => {
    const input = inputs[name]!;
    const figures = renderedViews(input);
    expect(figures.map((one) => one.name)).toEqual([
      'views.svg',
      ...input.working!.map((target) => `working-${target.name}.svg`),
    ]);
    expect(input.working!.length).toBe({ plover: 2, 'plover-whole': 2, curlew: 3 }[name] ?? 1);
    for (const { name: file, svg } of figures) {
      const boxes = textBoxes(svg);
      expect(boxes.length).toBe(svg.match(/<text /g)!.length);
      expect(boxes.length).toBeGreaterThan(10);
      expect(overlaps(boxes)).toEqual([]);
      const [, width, height] = /width="([\d.]+)" height="([\d.]+)" role/.exec(svg)!.map(Number);
      for (const box of boxes) {
        expect(box.left, box.text).toBeGreaterThanOrEqual(0);
        expect(box.right, box.text).toBeLessThanOrEqual(width!);
        expect(box.bottom, box.text).toBeLessThanOrEqual(height!);
        expect(box.text, 'a label that was shortened').not.toMatch(/…$/);
      }
      // Leaders end next to their own names, and run through no text: no name, letter, legend or scale bar.
      const leaders = leadersOf(svg);
      expect(leaders.length).toBeGreaterThan(0);
      for (const leader of leaders)
        for (const box of boxes)
          expect(runsThrough(leader, box), `${file}: a leader runs through "${box.text}"`).toBe(false);
    }
  });

  test.each(CASES)('%s: nothing of the lesion is cut off at the edge of a view', (name) => {
    for (const { name: file, svg } of renderedViews(inputs[name]!)) {
      const pictures = drawnPictures(svg);
      expect(pictures.length).toBe(file === 'views.svg' ? 5 : 1);
      for (const { width, height, href } of pictures) {
        const alone = `<svg xmlns="http://www.w3.org/2000/svg" width="${width}" height="${height}"><image width="${width}" height="${height}" href="${href}"/></svg>`;
        const { pixels, width: w, height: h } = new Resvg(alone).render();
        for (let y = 0; y < h; y++)
          for (let x = 0; x < w; x++) {
            if (x > 0 && y > 0 && x < w - 1 && y < h - 1) continue;
            const at = 4 * (y * w + x);
            expect([...pixels.slice(at, at + 3)], `${file} ${x} ${y}`).toEqual([255, 255, 255]);
          }
      }
    }
  });

  test('the zone is in the middle where the whole lesion would make it too small', () => {
    const input = inputs.plover!;
    const [target] = input.working!;
    const long = { role: 'feeder', mesh: sphere([2000, 0, 0], 8) };
    const { svg } = renderedViews({ ...input, parts: [...input.parts, long] })[1]!;
    const zone = /<polyline points="([^"]+)"/
      .exec(svg)![1]!
      .split(' ')
      .map((pair) => pair.split(',').map(Number));
    const [first, last] = [zone[0]!, zone.at(-1)!];
    const seen = Math.hypot(last[0]! - first[0]!, last[1]! - first[1]!);
    expect(seen).toBeGreaterThan(30);
    expect(seen).toBeLessThan(50);
    expect(target!.landing.length_mm).toBeCloseTo(12, 0);
  });

  test('a working view states its angles, the size of the zone and the device', () => {
    for (const { working, ...input } of [inputs.plover!, inputs.heron!]) {
      for (const [i, target] of working!.entries()) {
        const { svg, alt } = renderedViews({ ...input, working })[i + 1]!;
        const { lao_rao_deg: lao, cran_caud_deg: cranial } = target.view;
        const angles = `${lao < 0 ? 'RAO' : 'LAO'} ${Math.abs(lao).toFixed(0)}°, ${cranial < 0 ? 'caudal' : 'cranial'} ${Math.abs(cranial).toFixed(0)}°`;
        expect(svg).toContain(`>Working view of ${target.name}: ${angles}<`);
        const { calibre_mm: calibre, length_mm: long } = target.landing;
        expect(svg).toContain(`>calibre ${calibre.toFixed(1)} mm, length ${long.toFixed(1)} mm<`);
        expect(alt).toContain(`${target.device!.diameter_mm} x ${target.device!.length_mm} mm`);
      }
    }
  });

  test('the outline of the device has its diameter and length at the scale of the bar', () => {
    const { svg } = renderedViews(inputs.plover!)[1]!;
    const bar = [
      ...svg.matchAll(
        /<line x1="([\d.]+)" y1="([\d.]+)" x2="([\d.]+)" y2="\2" stroke="#000000" stroke-width="2"\/>/g,
      ),
    ].at(-1)!;
    const perMm =
      (Number(bar[3]) - Number(bar[1])) / Number(/>([\d.]+) mm<\/text>/.exec(svg.slice(bar.index))![1]);
    const points = /<polygon points="([^"]+)"/
      .exec(svg)![1]!
      .split(' ')
      .map((pair) => pair.split(',').map(Number));
    const apart = (i: number, j: number): number =>
      Math.hypot(points[i]![0]! - points[j]![0]!, points[i]![1]! - points[j]![1]!);
    const { device } = inputs.plover!.working![0]!;
    const last = points.length - 1;
    expect(apart(0, last) / perMm).toBeCloseTo(device!.diameter_mm!, 1);
    const half = (last - 1) / 2;
    // The vessel is slightly bent; the mean of both rims is the length along it.
    expect((apart(0, half) + apart(half + 1, last)) / 2 / perMm / device!.length_mm!).toBeCloseTo(1, 1);
  });

  test('a vessel without a working view, or without patient axes, has no working figure', () => {
    expect(renderedViews({ ...inputs.plover!, frame: 'unknown' })).toHaveLength(1);
    const result = twoFeeders();
    for (const vessel of Object.values(result.vessels)) if (vessel.landing) vessel.landing.view = undefined;
    expect(workingTargets(result)).toEqual([]);
  });

  test('names that would make the same file get their own files; a coil is a circle', () => {
    const [first] = inputs.plover!.working!;
    const coil = { ...first!.device!, kind: 'detachable-coil' as const };
    const figures = renderedViews({
      ...inputs.plover!,
      working: [
        { ...first!, name: 'A<1>' },
        { ...first!, name: 'a 1', device: coil },
        { ...first!, device: undefined },
      ],
    });
    expect(figures.slice(1).map(({ name }) => name)).toEqual([
      'working-A-1.svg',
      'working-a-1-2.svg',
      'working-A1.svg',
    ]);
    expect(figures[1]!.svg).toContain('Working view of A&lt;1&gt;');
    expect(/<polygon points="([^"]+)"/.exec(figures[2]!.svg)![1]!.split(' ')).toHaveLength(48);
    expect(figures[3]!.svg).not.toContain('<polygon');
  });

  test('all figures of a case take at most 1.5 s of CPU time', () => {
    for (const name of ['plover', 'plover-whole', 'heron', 'wren']) {
      const before = process.cpuUsage();
      renderedViews(inputs[name]!);
      figuresOf(results[name]!);
      const { user, system } = process.cpuUsage(before);
      expect((user + system) / 1e6, name).toBeLessThan(1.5);
    }
  });

  const MEAN = 1.5;
  const SHARE = 0.02;
  test.each(['plover', 'heron'])('%s looks as before', (name) => {
    const charts = figuresOf(results[name]!).filter((figure) => !/calibre-(A2|B1|V1)/.test(figure.name));
    for (const figure of [...renderedViews(inputs[name]!), ...(name === 'plover' ? charts : [])]) {
      const { pixels, png } = drawnSmall(figure.svg, 240);
      const file = new URL(`../golden/${name}-${figure.name.replace('.svg', '.png')}`, import.meta.url);
      if (process.env.UPDATE_GOLDEN === '1') writeFileSync(file, png);
      const { mean, share } = difference(pixels, readPng(readFileSync(file)));
      expect(mean, `${figure.name}: mean difference`).toBeLessThan(MEAN);
      expect(share, `${figure.name}: share of pixels that differ`).toBeLessThan(SHARE);
    }
  });

  test('the charts of plover have the same texts in the same places', () => {
    // Fonts differ between machines, so the texts are compared as text with their positions, in pixels.
    const said = figuresOf(results.plover!).map(
      ({ name, svg }) =>
        `${name}\n${textBoxes(svg)
          .map((box) => `${Math.round(box.x)} ${Math.round(box.y)} ${box.anchor} ${box.text}\n`)
          .join('')}`,
    );
    expectGolden('plover-charts.txt', said.join('\n'));
  });

  test('the comparison detects a swapped side, a changed colour and 10 degrees of the C-arm', () => {
    const input = inputs.plover!;
    const [sides, working] = renderedViews(input);
    const seen = (svg: string, other: string): boolean => {
      const { mean, share } = difference(drawnSmall(svg, 240).pixels, drawnSmall(other, 240).pixels);
      return mean >= MEAN || share >= SHARE;
    };
    expect(seen(sides!.svg, renderedViews({ ...input, side: 'right' })[0]!.svg)).toBe(true);
    expect(seen(sides!.svg, sides!.svg)).toBe(false);
    const swapped = input.parts.map((part) => ({
      ...part,
      role: part.role === 'drain' ? 'feeder' : part.role,
    }));
    expect(seen(sides!.svg, renderedViews({ ...input, parts: swapped })[0]!.svg)).toBe(true);
    const [target] = input.working!;
    const tilted = { ...target!, view: { ...target!.view, lao_rao_deg: target!.view.lao_rao_deg + 10 } };
    expect(seen(working!.svg, renderedViews({ ...input, working: [tilted] })[1]!.svg)).toBe(true);
  });
});
