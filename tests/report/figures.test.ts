import { Resvg } from '@resvg/resvg-js';
import { describe, expect, test } from 'vitest';
import { calibreProfileSvg } from '../../src/report/figures/calibre-profile.js';
import { closureChartSvg } from '../../src/report/figures/closure-chart.js';
import { figuresOf } from '../../src/report/figures/figures.js';
import { oxygenCascadeSvg } from '../../src/report/figures/oxygen-cascade.js';
import { COLOURS } from '../../src/report/figures/palette.js';
import { readinessTimelineSvg } from '../../src/report/figures/readiness-timeline.js';
import { shuntChartSvg } from '../../src/report/figures/shunt-chart.js';
import { overlaps } from './drawn-cases.js';
import { nearlyEmpty, oneFeeder, twoFeeders, withStrings } from './fixtures.js';
import { elementsOf, type TextBox, textBoxes } from './svg-texts.js';

const HOSTILE = '"><script>alert(1)</script> \u202e&#x0; \u0000 ]]> <!-- \ud800';
const hostile = () => withStrings(twoFeeders(), (text) => text + HOSTILE);

const figures = [
  ...figuresOf(oneFeeder()).map((figure) => ['one feeder', figure] as const),
  ...figuresOf(twoFeeders()).map((figure) => ['two feeders', figure] as const),
  ...figuresOf(hostile()).map((figure) => ['hostile', figure] as const),
].map(([from, figure]) => [`${from}: ${figure.name}`, figure] as const);

describe.each(figures)('%s', (_, { svg, alt }) => {
  const elements = elementsOf(svg);

  test('is well-formed SVG with title and description, without scripts or external references', () => {
    expect(elements[0]).toMatchObject({ name: 'svg', attributes: { role: 'img' } });
    expect(elements[1]?.name).toBe('title');
    expect(elements[2]?.name).toBe('desc');
    expect(elements[2]?.text.length).toBeGreaterThan(30);
    expect(alt.length).toBeGreaterThan(30);
    const allowed = [
      'svg',
      'title',
      'desc',
      'rect',
      'line',
      'g',
      'tspan',
      'path',
      'text',
      'circle',
      'polygon',
      'defs',
      'pattern',
    ];
    for (const element of elements) {
      expect(allowed).toContain(element.name);
      for (const [key, value] of Object.entries(element.attributes)) {
        expect(key).not.toMatch(/^on|href/);
        expect(value).not.toMatch(/NaN|undefined|Infinity/);
      }
    }
  });

  test('ids are unique, and every reference finds its id', () => {
    const ids = elements.flatMap((element) => element.attributes.id ?? []);
    expect(new Set(ids).size).toBe(ids.length);
    const used = elements.flatMap(
      (element) =>
        Object.values(element.attributes)
          .join(' ')
          .match(/(?<=url\(#)[^)]+/g) ?? [],
    );
    for (const id of used) expect(ids).toContain(id);
  });

  test('texts stay inside the drawing and do not overlap', () => {
    const [width, height] = elements[0]!.attributes.viewBox!.split(' ').slice(2).map(Number) as [
      number,
      number,
    ];
    // Mean glyph width of a sans-serif face, narrower than the one the layout reserves.
    const boxes = textBoxes(svg, 0.52).filter((box) => !box.turned);
    for (const box of boxes) {
      expect(box.left, box.text).toBeGreaterThanOrEqual(0);
      expect(box.right, box.text).toBeLessThanOrEqual(width + 1);
      expect(box.bottom, box.text).toBeLessThanOrEqual(height);
    }
    expect(overlaps(boxes)).toEqual([]);
  });

  test('renders to a picture', () => {
    const image = new Resvg(svg, { fitTo: { mode: 'width', value: 200 } }).render();
    expect(image.width).toBe(200);
    // More than the white sheet was drawn.
    const pixels = image.pixels;
    expect(pixels.some((value, i) => i % 4 !== 3 && value < 128)).toBe(true);
  });
});

describe('figuresOf', () => {
  test('file names are plain, unique regardless of case, and stable', () => {
    const result = twoFeeders();
    const [a1, a2] = [result.vessels.A1!, result.vessels.A2!];
    result.vessels = { 'A/1': a1, 'a 1': a2, '../..': a1, é: a2 };
    const names = figuresOf(result).map((figure) => figure.name);
    expect(new Set(names.map((name) => name.toLowerCase())).size).toBe(names.length);
    for (const name of names) expect(name).toMatch(/^[A-Za-z0-9-]+\.svg$/);
    expect(figuresOf(result)).toEqual(figuresOf(result));
  });

  test('without data there is no figure', () => {
    expect(figuresOf(nearlyEmpty())).toEqual([]);
    expect(shuntChartSvg(nearlyEmpty())).toBeUndefined();
    expect(closureChartSvg(nearlyEmpty())).toBeUndefined();
    expect(oxygenCascadeSvg(nearlyEmpty())).toBeUndefined();
    expect(readinessTimelineSvg(nearlyEmpty())).toBeUndefined();
    expect(() => calibreProfileSvg('A1', nearlyEmpty().vessels.A1!)).toThrow('no calibre profile for A1');
  });

  test('a date that is not a real day draws no mark', () => {
    const result = oneFeeder();
    result.readiness.plan_a.ready_by = '2026-02-31x';
    expect(readinessTimelineSvg(result)).toContain('>no date');
  });
});

describe('calibreProfileSvg', () => {
  /** Two axis ticks give the mm per pixel; the path must go through the samples. */
  test('the curve goes through the samples', () => {
    const vessel = twoFeeders().vessels.A2!;
    const svg = calibreProfileSvg('A2', vessel);
    const ticks = textBoxes(svg).filter((box) => /^\d+$/.test(box.text));
    const across = ticks.filter((tick) => tick.anchor === 'middle');
    const up = ticks.filter((tick) => tick.anchor === 'end');
    const read = (list: TextBox[], key: 'x' | 'y', pixel: number): number => {
      const [a, b] = [list[0]!, list.at(-1)!];
      return Number(a.text) + ((pixel - a[key]) / (b[key] - a[key])) * (Number(b.text) - Number(a.text));
    };
    const points = /stroke="#0072B2"[^>]*><path d="M([^"]+)"/
      .exec(svg)![1]!
      .split('L')
      .map((pair) => pair.split(',').map(Number));
    const frame = Number(/<g transform="translate\(0,([\d.]+)\)/.exec(svg)![1]);
    // Tick labels are 0.32 em below their line.
    const below = 0.32 * 13;
    expect(points).toHaveLength(vessel.profile.length);
    points.forEach(([px, py], i) => {
      expect(read(across, 'x', px!)).toBeCloseTo(vessel.profile[i]!.at_mm, 2);
      expect(read(up, 'y', py! + frame + below)).toBeCloseTo(vessel.profile[i]!.equivalent_mm, 2);
    });
  });

  test('a gap between sections is drawn as a gap and reported; a lone section between two is a dot', () => {
    const vessel = twoFeeders().vessels.A2!;
    const sample = vessel.profile[0]!;
    const at = (places: number[]) => places.map((at_mm) => ({ ...sample, at_mm }));
    const curves = (svg: string): number =>
      /stroke="#0072B2"[^>]*>(<path.*?)<\/g>/s.exec(svg)![1]!.split('<path').length - 1;
    vessel.profile = at([1, 1.5, 2, 2.5, 3, 3.5]);
    expect(curves(calibreProfileSvg('A2', vessel))).toBe(1);
    expect(calibreProfileSvg('A2', vessel)).not.toContain('No section between');
    vessel.profile = at([1, 1.5, 2, 2.5, 3.7, 4.2, 4.7]);
    expect(curves(calibreProfileSvg('A2', vessel))).toBe(1);
    vessel.profile = at([1, 1.5, 2, 2.5, 3, 3.5, 6, 9, 9.5, 10]);
    const svg = calibreProfileSvg('A2', vessel);
    expect(curves(svg)).toBeGreaterThanOrEqual(2);
    expect(svg).toContain('No section between 3.5 mm and 6.0 mm.');
    expect(svg).toContain('No section between 6.0 mm and 9.0 mm.');
    expect(svg.match(/<circle[^>]*r="4"/g)).toHaveLength(1);
  });

  test('many branches close together get their own rows', () => {
    const vessel = twoFeeders().vessels.A1!;
    vessel.branches = [18, 19, 20, 21, 22].map((at) => ({ name: `B${at}`, at_mm: at }));
    const labels = textBoxes(calibreProfileSvg('A1', vessel)).filter((box) =>
      box.text.startsWith('branch B'),
    );
    expect(new Set(labels.map((box) => box.y)).size).toBe(5);
  });
});

describe('palette', () => {
  // Source: Okabe and Ito, Color Universal Design, 2008, as quoted in the manual of R's palette.colors (secondary).
  test('is the published one', () => {
    expect(Object.values(COLOURS)).toEqual([
      '#000000',
      '#E69F00',
      '#56B4E9',
      '#009E73',
      '#F0E442',
      '#0072B2',
      '#D55E00',
      '#CC79A7',
    ]);
  });
});
