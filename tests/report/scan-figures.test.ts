import { Resvg } from '@resvg/resvg-js';
import { describe, expect, test } from 'vitest';
import { encodePng } from '../../src/report/figures/png.js';
import { greyOf } from '../../src/report/figures/grey-image.js';
import { scanFigures } from '../../src/report/figures/scan-figures.js';
import { scanPictureSection } from '../../src/report/plan-notes.js';
import { OUTSIDE_SCAN } from '../../src/witness/grey-picture.js';
import { scanPictures } from '../../src/witness/scan-pictures.js';
import { bendResult, bendScan, bendSurface, LUMEN_HU, LUNG_HU } from '../witness/tube-scene.js';
import { overlaps } from './drawn-cases.js';
import { elementsOf, textBoxes } from './svg-texts.js';

const HOSTILE = '"><script>alert(1)</script> \u202e&#x0; \u0000 ]]> <!-- \ud800';
const volume = bendScan();

function figuresNamed(name: string, kind = 'feeder-candidate') {
  const base = bendResult();
  const { A1 } = base.vessels;
  // openings next to each other and at the neck, whose names compete for the same space
  const branches = [12, 13, 14, 44, 46].map((at_mm, i) => ({
    name: `B${i + 1}${name.slice(2)}`,
    at_mm,
    from_mm: at_mm - 1,
    to_mm: at_mm + 1,
  }));
  const vessel = { ...A1, branches };
  const result = {
    ...base,
    vessels: { [name]: vessel },
    missed: [{ kind, point_mm: [29, 3, 1], calibre_mm: 3, length_mm: 12, joins: name }],
  };
  const structures = [{ ...bendSurface(), name }];
  return scanFigures(scanPictures({ result, structures, volume })!, result.vessels);
}

const usual = figuresNamed('A1');
const hostile = figuresNamed(`A1${HOSTILE}`, `unclear${HOSTILE}`);
const all = [
  ...usual.map((figure) => [figure.name, figure] as const),
  ...hostile.map((figure) => [`hostile: ${figure.name}`, figure] as const),
];

test('one for each feeder, one through the sac, one for each missed piece', () => {
  expect(usual.map(({ name }) => name)).toEqual(['scan-of-A1.svg', 'scan-sac.svg', 'scan-missed-1.svg']);
});

test('the same input gives the same bytes', () => {
  expect(figuresNamed('A1')).toEqual(usual);
});

describe.each(all)('%s', (_, { svg, alt, name }) => {
  const elements = elementsOf(svg);

  test('is well-formed, with only its own shapes, texts and pictures in it', () => {
    expect(elements[0]).toMatchObject({ name: 'svg', attributes: { role: 'img' } });
    const found = new Set(elements.map((element) => element.name));
    expect([...found].sort().join(' ')).toMatch(
      /^(circle )?clipPath defs desc g image line path rect svg text title$/,
    );
    for (const { attributes } of elements)
      for (const [key, value] of Object.entries(attributes)) {
        expect(key).not.toMatch(/^on/);
        if (key === 'href') expect(value).toMatch(/^data:image\/png;base64,[A-Za-z0-9+/=]+$/);
        else expect(value).not.toMatch(/NaN|undefined|Infinity/);
      }
    expect(name).toMatch(/^[A-Za-z0-9-]+\.svg$/);
    expect(alt.length).toBeGreaterThan(60);
    expect(svg.length).toBeLessThan(150_000);
  });

  test('states its window, has a scale in millimetres and the patient axes', () => {
    const texts = elements.map(({ text }) => text);
    expect(texts.some((text) => text.includes('level −200 HU, width 1600 HU'))).toBe(true);
    expect(texts.filter((text) => /^\d+ mm$/.test(text)).length).toBe(3);
    expect(texts.filter((text) => /^[RLAPHF]{1,3}$/.test(text)).length).toBeGreaterThanOrEqual(12);
  });

  test('ids are unique, and every reference finds its id', () => {
    const ids = elements.flatMap((element) => element.attributes.id ?? []);
    expect(new Set(ids).size).toBe(ids.length);
    for (const { attributes } of elements)
      for (const [, id] of (attributes['clip-path'] ?? '').matchAll(/url\(#([^)]+)\)/g))
        expect(ids).toContain(id);
  });

  test('texts stay inside the drawing and do not overlap', () => {
    const [width, height] = elements[0].attributes.viewBox.split(' ').slice(2).map(Number);
    const boxes = textBoxes(svg, 0.52).filter((box) => !box.turned);
    for (const box of boxes) {
      expect(box.left, box.text).toBeGreaterThanOrEqual(0);
      expect(box.right, box.text).toBeLessThanOrEqual(width + 1);
      expect(box.bottom, box.text).toBeLessThanOrEqual(height);
    }
    expect(overlaps(boxes)).toEqual([]);
  });
});

describe('the picture as drawn by another program', () => {
  const { svg } = usual[1];
  const image = new Resvg(svg).render();
  const at = (x: number, y: number): number[] =>
    [...image.pixels.subarray(4 * (y * image.width + x))].slice(0, 3);
  const squares = elementsOf(svg).filter(({ name }) => name === 'image');
  const middle = squares.map(({ attributes: a }) => [
    Number(a.x) + Number(a.width) / 2,
    Number(a.y) + Number(a.height) / 2,
  ]);

  test('is as bright in the sac as its Hounsfield value in the window, and dark in lung', () => {
    for (const [x, y] of middle) {
      const [r, g, b] = at(Math.round(x), Math.round(y));
      expect([r, g, b]).toEqual(Array(3).fill(Math.round((255 * (LUMEN_HU + 1000)) / 1600)));
      const lung = at(Math.round(x + 100), Math.round(y - 80));
      expect(lung).toEqual(Array(3).fill(Math.round((255 * (LUNG_HU + 1000)) / 1600)));
    }
  });
});

test('the wall of a vessel in lung lies at the middle of the window', () => {
  for (const lumen of [350, 450]) {
    const wall = greyOf((lumen - 820) / 2);
    expect(Math.abs(wall - 127)).toBeLessThan(8);
  }
  expect([greyOf(-1024), greyOf(3000), greyOf(OUTSIDE_SCAN)]).toEqual([0, 255, 0]);
});

test('a grey PNG keeps its pixels when drawn by another program', () => {
  const pixels = Uint8Array.from({ length: 12 }, (_, i) => i * 20);
  const png = Buffer.from(encodePng(pixels, 4, 3, 1)).toString('base64');
  const svg = `<svg xmlns="http://www.w3.org/2000/svg" width="4" height="3"><image width="4" height="3" image-rendering="optimizeSpeed" href="data:image/png;base64,${png}"/></svg>`;
  const drawn = new Resvg(svg).render().pixels;
  expect([...drawn].filter((_, i) => i % 4 === 0)).toEqual([...pixels]);
  expect(() => encodePng(pixels, 4, 4, 1)).toThrow(RangeError);
});

test('the plan says what to look for, and what is not drawn', () => {
  expect(scanPictureSection(undefined)).toEqual([]);
  const [text] = scanPictureSection({ figures: hostile, leftOut: { feeders: 2, missed: 1 } });
  expect(text).toContain('Look at each picture before the plan is used.');
  expect(text).toContain('Not drawn: 2 thinner feeders and 1 thinner missed piece.');
  expect(text.match(/\]\(figures\/scan-/g)?.length).toBe(3);
  expect(text).not.toContain('<script');
});
