import { describe, expect, it } from 'vitest';
import { dot, normalize, type Vec3 } from '../../src/foundation/vector.js';
import { rotateToLps } from '../../src/geometry/frame.js';
import { type ViewReach, workingView } from '../../src/geometry/landing-view.js';

const REACH: ViewReach = { laoRaoDeg: 60, cranCaudDeg: 30 };
const zone: Vec3[] = [[0, 0, 0]];
const free = (): boolean => false;

/** Direction from the patient to the detector in LPS: x left, y posterior, z cranial. */
const detector = (laoRaoDeg: number, cranCaudDeg: number): Vec3 => {
  const [a, b] = [laoRaoDeg, cranCaudDeg].map((d) => (d * Math.PI) / 180);
  return [Math.sin(a) * Math.cos(b), -Math.cos(a) * Math.cos(b), Math.sin(b)];
};

describe('working view', () => {
  it('a vessel along the body axis: straight AP', () => {
    const view = workingView(zone, [0, 0, 1], REACH, free)!;
    expect(view.laoRaoDeg).toBeCloseTo(0, 6);
    expect(view.cranCaudDeg).toBeCloseTo(0, 6);
    expect(view.overlap).toBe(0);
  });

  it('a vessel from right to left: straight AP', () => {
    const view = workingView(zone, [1, 0, 0], REACH, free)!;
    expect(view.laoRaoDeg).toBeCloseTo(0, 6);
    expect(view.cranCaudDeg).toBeCloseTo(0, 6);
  });

  it('a vessel from front to back cannot be seen side-on within reach', () => {
    expect(workingView(zone, [0, 1, 0], REACH, free)).toBeUndefined();
    const side = workingView(zone, [0, 1, 0], { laoRaoDeg: 90, cranCaudDeg: 30 }, free)!;
    expect(Math.abs(side.laoRaoDeg)).toBeCloseTo(90, 6);
  });

  it('LAO puts the detector to the patient’s left, RAO to the right; cranial towards the head, caudal towards the feet', () => {
    // a vessel perpendicular to the detector's direction is seen best from there
    const cases: [number, number][] = [
      [40, 0],
      [-40, 0],
      [0, 20],
      [0, -20],
    ];
    for (const [lao, cranial] of cases) {
      const d = detector(lao, cranial);
      const vessel = normalize(lao === 0 ? [0, d[2], -d[1]] : [-d[1], d[0], 0]);
      expect(dot(vessel, d)).toBeCloseTo(0, 12);
      const hidden = (_: Vec3, towards: Vec3): boolean => Math.abs(dot(towards, d)) < 0.999;
      const view = workingView(zone, vessel, REACH, hidden)!;
      expect(view.overlap, `${lao} ${cranial}`).toBe(0);
      expect(Math.abs(view.laoRaoDeg - lao)).toBeLessThan(4);
      expect(Math.abs(view.cranCaudDeg - cranial)).toBeLessThan(4);
    }
  });

  it('is perpendicular to a vessel of any direction within reach', () => {
    for (let i = 0; i < 60; i++) {
      const vessel = normalize([Math.sin(3 * i), Math.cos(5 * i), Math.sin(7 * i + 1)]);
      const view = workingView(zone, vessel, REACH, free);
      if (!view) {
        // only a vessel that points nearly at the detector in every allowed view has none
        expect(Math.abs(vessel[1])).toBeGreaterThan(0.5);
        continue;
      }
      expect(Math.abs(dot(detector(view.laoRaoDeg, view.cranCaudDeg), vessel))).toBeLessThan(1e-9);
      expect(Math.abs(view.laoRaoDeg)).toBeLessThanOrEqual(60);
      expect(Math.abs(view.cranCaudDeg)).toBeLessThanOrEqual(30);
    }
  });

  it('avoids what lies in front of or behind the vessel, and says what part stays hidden', () => {
    // something wide lies behind, also along the ray away from the detector
    const hidden = (_: Vec3, d: Vec3): boolean => Math.abs(d[1]) > Math.cos((24 * Math.PI) / 180);
    const view = workingView(zone, [0, 0, 1], REACH, hidden)!;
    expect(view.overlap).toBe(0);
    expect(Math.abs(view.laoRaoDeg)).toBeGreaterThan(23.9);
    expect(Math.abs(view.laoRaoDeg)).toBeLessThan(26.1);
    const places: Vec3[] = [0, 1, 2, 3].map((z) => [0, 0, z]);
    const half = workingView(places, [0, 0, 1], REACH, (p) => p[2] < 2)!;
    expect(half.overlap).toBe(0.5);
  });

  it('RAS directions are rotated by half a turn about the head-foot axis, and back', () => {
    const d: Vec3 = [0.2, -0.5, 0.7];
    expect(rotateToLps(d, 'RAS')).toEqual([-0.2, 0.5, 0.7]);
    expect(rotateToLps(rotateToLps(d, 'RAS'), 'RAS')).toEqual(d);
    expect(rotateToLps(d, 'LPS')).toEqual(d);
    expect(rotateToLps(d, 'unknown')).toEqual(d);
  });
});
