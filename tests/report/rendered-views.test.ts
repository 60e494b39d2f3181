import { createHash } from 'node:crypto';
import { writeFileSync } from 'node:fs';
import { inflateSync } from 'node:zlib';
import { Resvg } from '@resvg/resvg-js';
import { describe, expect, test } from 'vitest';
import type { TriangleMesh } from '../../src/mesh/mesh.js';
import { encodePng } from '../../src/report/figures/png.js';
import { type Projection, rasterise } from '../../src/report/figures/raster.js';
import { renderedViews, viewMarks } from '../../src/report/figures/rendered-views.js';
import { twoFeeders } from './fixtures.js';

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

/** 2 pixels a mm, the origin in the middle of 100 x 100 pixels, seen along z. */
const STRAIGHT: Projection = [
  [2, 0, 0, 50],
  [0, 2, 0, 50],
  [0, 0, 2, 0],
];

const RED = [200, 0, 0] as const;
const BLUE = [0, 0, 200] as const;

describe('rasterise', () => {
  test('a sphere covers the disc of its radius', () => {
    const pixels = rasterise([{ mesh: sphere([0, 0, 0], 15), colour: RED }], STRAIGHT, 100, 100);
    let covered = 0;
    for (let i = 0; i < pixels.length; i += 3) covered += (255 - pixels[i + 2]!) / 255;
    // Blue is 255 on white and 0 on the sphere. An inscribed polygon of 48 sides has 0.9971 of its circle's area.
    expect(covered / (Math.PI * 30 ** 2)).toBeCloseTo(0.9971, 2);
  });

  test('the nearer of two spheres hides the other, whatever the order', () => {
    const near = { mesh: sphere([0, 0, -20], 8), colour: RED };
    const far = { mesh: sphere([0, 0, 20], 8), colour: BLUE };
    const pixels = rasterise([near, far], STRAIGHT, 100, 100);
    expect(rasterise([far, near], STRAIGHT, 100, 100)).toEqual(pixels);
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
    expect(rasterise([outside, flat], STRAIGHT, 100, 100).every((value) => value === 255)).toBe(true);
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
    const png = Buffer.from(encodePng(new Uint8Array(3), 1, 1));
    expect(png.subarray(0, 8).toString('hex')).toBe('89504e470d0a1a0a');
    // CRC of an empty IEND chunk: ae426082, as in every PNG file (ISO/IEC 15948).
    expect(png.subarray(-12).toString('hex')).toBe('0000000049454e44ae426082');
    const length = png.readUInt32BE(33);
    expect([...inflateSync(png.subarray(41, 41 + length))]).toEqual([1, 0, 0, 0]);
  });

  test('a wrong size is refused', () => {
    expect(() => encodePng(new Uint8Array(4), 1, 1)).toThrow(RangeError);
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
    { text: 'A1', atMm: [23, 0, 7] as [number, number, number] },
    { text: 'A1 landing', atMm: [20, 0, 6] as [number, number, number] },
    { text: 'V1', atMm: [-10, 14, -8] as [number, number, number] },
  ];

  test('shows three sides with names, the same bytes each time', () => {
    const views = renderedViews({ parts, frame: 'LPS', side: 'left', marks })!;
    expect(views.svg).toBe(renderedViews({ parts, frame: 'LPS', side: 'left', marks })!.svg);
    expect(views.svg.match(/<image /g)).toHaveLength(3);
    expect(views.svg.match(/>A1 landing</g)).toHaveLength(3);
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
    const lps = renderedViews({ parts, frame: 'LPS', marks: [] })!;
    const ras = renderedViews({ parts: turned, frame: 'RAS', marks: [] })!;
    expect(pictures(ras.svg)).toBe(pictures(lps.svg));
    expect(pictures(renderedViews({ parts: turned, frame: 'LPS', marks: [] })!.svg)).not.toBe(
      pictures(lps.svg),
    );
  });

  test('the patient’s left is on the right of the front view', () => {
    const svg = renderedViews({ parts, frame: 'LPS', marks: [marks[0]!] })!.svg;
    const x = Number(/<circle cx="([\d.]+)"/.exec(svg)?.[1]);
    expect(x).toBeGreaterThan(10 + 370 / 2);
  });

  test('an unknown frame claims no patient direction', () => {
    const { alt } = renderedViews({ parts, frame: 'unknown', side: 'right', marks: [] })!;
    expect(alt).toContain('seen along the y axis; patient directions unknown');
    expect(alt).not.toMatch(/front|left|right|CT/);
  });

  test('without a surface of the lesion there is no figure', () => {
    expect(renderedViews({ parts: [parts[3]!], frame: 'LPS', marks })).toBeUndefined();
    expect(renderedViews({ parts: [], frame: 'LPS', marks })).toBeUndefined();
  });

  test('marks come from centrelines and landing zones', () => {
    const result = twoFeeders();
    result.vessels.A1!.centreline_mm = [
      [1, 2, 3],
      [4, 5, 6],
    ];
    result.vessels.A2!.landing!.centre_mm = [7, 8, 9];
    expect(viewMarks(result)).toEqual([
      { text: 'A1', atMm: [1, 2, 3] },
      { text: 'A2 landing', atMm: [7, 8, 9] },
    ]);
  });
});
