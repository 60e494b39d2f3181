import { describe, expect, it } from 'vitest';
import { measure } from '../../src/mesh/measures.js';
import { sacMesh } from '../../src/phantoms/sac.js';
import { cutIntoBands } from '../../src/report/figures/colour-bands.js';
import { deviationFigure } from '../../src/report/figures/deviation-views.js';
import { finerMesh } from '../../src/report/figures/finer-mesh.js';
import { DIVERGING } from '../../src/report/figures/palette.js';

const R = 10;
const ball = sacMesh({ centreMm: [0, 0, 0], semiAxesMm: [R, R, R], lobes: [] }, 24);
const heights = Float64Array.from({ length: ball.positions.length / 3 }, (_, v) => ball.positions[3 * v + 2]);

describe('bands of a value on a surface', () => {
  it('of a sphere by height have the area 2·pi·R·h (Archimedes), and together the area of the sphere', () => {
    const levels = [-6, -1, 0.5, 7];
    const bands = cutIntoBands(ball, heights, levels);
    const edges = [-R, ...levels, R];
    const areas = bands.map((band) => measure(band).areaMm2);
    for (const [i, area] of areas.entries())
      expect(area / (2 * Math.PI * R * (edges[i + 1] - edges[i]))).toBeCloseTo(1, 1);
    expect(areas.reduce((a, b) => a + b, 0)).toBeCloseTo(measure(ball).areaMm2, 6);
    for (const [i, band] of bands.entries())
      for (let p = 2; p < band.positions.length; p += 3) {
        expect(band.positions[p]).toBeGreaterThan(edges[i] - 1e-9);
        expect(band.positions[p]).toBeLessThan(edges[i + 1] + 1e-9);
      }
  });

  it('a value exactly on a level goes to one band only', () => {
    const flat = {
      positions: Float64Array.of(0, 0, 0, 1, 0, 0, 0, 1, 0),
      triangles: Uint32Array.of(0, 1, 2),
    };
    const bands = cutIntoBands(flat, Float64Array.of(1, 1, 1), [0, 1, 2]);
    expect(bands.map((band) => band.triangles.length)).toEqual([0, 0, 3, 0]);
  });
});

describe('a finer mesh', () => {
  it('has the same area and volume, and no long edges', () => {
    const coarse = sacMesh({ centreMm: [0, 0, 0], semiAxesMm: [9, 7, 5], lobes: [] }, 3);
    const fine = finerMesh(coarse, 1);
    expect(measure(fine).areaMm2).toBeCloseTo(measure(coarse).areaMm2, 8);
    expect(measure(fine).volumeMm3).toBeCloseTo(measure(coarse).volumeMm3, 8);
    for (let t = 0; t < fine.triangles.length; t += 3)
      for (let k = 0; k < 3; k++) {
        const [a, b] = [3 * fine.triangles[t + k], 3 * fine.triangles[t + ((k + 1) % 3)]];
        const edge = Math.hypot(...[0, 1, 2].map((i) => fine.positions[a + i] - fine.positions[b + i]));
        expect(edge).toBeLessThanOrEqual(1);
      }
  });
});

describe('the figure of distances', () => {
  const figure = (title: string) =>
    deviationFigure({
      name: 'x.svg',
      title,
      pieces: [{ mesh: ball, signedMm: heights.map((h) => h / 4), limitMm: heights.map(() => 1) }],
      levelsMm: [0.25, 0.5, 1, 2],
      barLimitMm: 1,
      frame: 'LPS',
      side: 'left',
      words: { outside: 'outside', inside: 'inside', striped: 'striped: out' },
      notes: ['a note'],
    });

  it('shows five sides and the signed edges of its bands, and escapes its input', () => {
    const { svg, alt } = figure('<b>&"');
    expect(svg).not.toContain('<b>');
    expect(svg.match(/<image/g)!.length).toBe(5 + 9 + 1);
    for (const text of ['+2.00', '+0.25', '−0.25', '−2.00', 'Distance, mm', 'outside', 'inside', 'a note'])
      expect(svg).toContain(`>${text}<`);
    expect(alt).toContain('positive, red');
    expect(figure('t')).toEqual(figure('t'));
  });

  it('uses colours that get darker to both sides', () => {
    const light = DIVERGING.map((hex) => {
      const value = Number.parseInt(hex.slice(1), 16);
      return 0.3 * (value >> 16) + 0.59 * ((value >> 8) & 255) + 0.11 * (value & 255);
    });
    for (let i = 0; i < 4; i++) {
      expect(light[i]).toBeLessThan(light[i + 1]);
      expect(light[8 - i]).toBeLessThan(light[7 - i]);
    }
  });
});
