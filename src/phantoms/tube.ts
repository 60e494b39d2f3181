import { add, scale, type Vec3 } from '../foundation/vector.js';
import type { TriangleMesh } from '../mesh/mesh.js';
import { type Curve, type Frame, rotationMinimisingFrames } from './curve.js';
import { MeshBuilder } from './mesh-builder.js';
import { integrate } from './quadrature.js';

/** An elliptical lumen along a curve; semi-axes in mm at arc length `s`, mm. Circular if both are equal. */
export interface TubeShape {
  curve: Curve;
  semiAxisA(s: number): number;
  semiAxisB(s: number): number;
}

export type TubeEnd = 'flat' | 'open' | 'hemisphere';

export interface TubeOptions {
  /** Corners of the polygon that represents each section. */
  around: number;
  /** Largest distance between two rings, mm. */
  stepMm: number;
  /** Widen each polygon so that it has the area of the smooth section (an inscribed one has less). */
  areaTrue: boolean;
  start: TubeEnd;
  end: TubeEnd;
}

const TUBE_DEFAULTS: TubeOptions = {
  around: 32,
  stepMm: 0.5,
  areaTrue: false,
  start: 'flat',
  end: 'flat',
};

/** Exact values of the smooth tube. */
export interface TubeTruth {
  lengthMm: number;
  /** Equivalent calibre 2·sqrt(area/pi) = 2·sqrt(a·b) of the section at `s`, mm. */
  calibreAt(s: number): number;
  /** With its caps, which are half-ellipsoids for hemispherical ends. mm3. */
  volumeMm3: number;
}

/** Tube of round section; `calibreAt` gives the diameter in mm at arc length `s`. */
export function roundTube(curve: Curve, calibreAt: (s: number) => number): TubeShape {
  const radius = (s: number): number => calibreAt(s) / 2;
  return { curve, semiAxisA: radius, semiAxisB: radius };
}

/** Factor by which the radius of an n-gon grows so that it has the area of the circle: sqrt(2 pi / (n sin(2 pi / n))). */
export function areaTrueFactor(around: number): number {
  const turn = (2 * Math.PI) / around;
  return Math.sqrt(turn / Math.sin(turn));
}

/**
 * Truth of the smooth tube.
 *
 * Formula   volume = integral of pi·a·b ds: the section's centroid is on the curve, so bending changes nothing
 * Source    second theorem of Pappus and Guldin
 * Valid     while the curve's bend radius is larger than the section's half width
 */
export function tubeTruth(
  shape: TubeShape,
  ends: Pick<TubeOptions, 'start' | 'end'> = TUBE_DEFAULTS,
): TubeTruth {
  const { curve, semiAxisA: a, semiAxisB: b } = shape;
  const { lengthMm } = curve;
  const panels = Math.max(200, Math.ceil(lengthMm * 4));
  let volumeMm3 = integrate((s) => Math.PI * a(s) * b(s), 0, lengthMm, panels);
  const cap = (s: number): number => (2 / 3) * Math.PI * a(s) * b(s) * Math.sqrt(a(s) * b(s));
  if (ends.start === 'hemisphere') volumeMm3 += cap(0);
  if (ends.end === 'hemisphere') volumeMm3 += cap(lengthMm);
  return { lengthMm, calibreAt: (s) => 2 * Math.sqrt(a(s) * b(s)), volumeMm3 };
}

/**
 * Mesh of a swept tube: rings in rotation-minimising frames, counter-clockwise seen from outside; closed unless an end is open.
 * Every ring vertex is on the smooth tube (or, `areaTrue`, on it scaled by `areaTrueFactor`).
 */
export function sweptTube(shape: TubeShape, options: Partial<TubeOptions> = {}): TriangleMesh {
  const { around, stepMm, areaTrue, start, end } = { ...TUBE_DEFAULTS, ...options };
  const { curve } = shape;
  const steps = Math.max(1, Math.ceil(curve.lengthMm / stepMm - 1e-9));
  const stations = Array.from({ length: steps + 1 }, (_, i) => (curve.lengthMm * i) / steps);
  const frames = rotationMinimisingFrames(curve, stations);
  const factor = areaTrue ? areaTrueFactor(around) : 1;
  const builder = new MeshBuilder();

  /** Ring of the section at `frame`, shrunk by `share` and moved `offsetMm` along the tangent. */
  const ring = (frame: Frame, share: number, offsetMm: number): number[] => {
    const a = shape.semiAxisA(frame.s) * factor * share;
    const b = shape.semiAxisB(frame.s) * factor * share;
    const centre = add(frame.point, scale(frame.tangent, offsetMm));
    return Array.from({ length: around }, (_, j) => {
      const angle = (2 * Math.PI * j) / around;
      const at: Vec3 = add(
        centre,
        add(scale(frame.u, a * Math.cos(angle)), scale(frame.v, b * Math.sin(angle))),
      );
      return builder.vertex(at);
    });
  };

  const rings: number[][] = [];
  const quarter = Math.max(2, Math.round(around / 4));
  const capRadius = (s: number): number => Math.sqrt(shape.semiAxisA(s) * shape.semiAxisB(s)) * factor;
  if (start === 'hemisphere') {
    for (let i = 1; i < quarter; i++) {
      const angle = (Math.PI / 2) * (i / quarter);
      rings.push(ring(frames[0], Math.sin(angle), -capRadius(0) * Math.cos(angle)));
    }
  }
  for (const frame of frames) rings.push(ring(frame, 1, 0));
  const last = frames[frames.length - 1];
  if (end === 'hemisphere') {
    for (let i = quarter - 1; i >= 1; i--) {
      const angle = (Math.PI / 2) * (i / quarter);
      rings.push(ring(last, Math.sin(angle), capRadius(last.s) * Math.cos(angle)));
    }
  }
  for (let i = 0; i + 1 < rings.length; i++) builder.band(rings[i], rings[i + 1]);
  if (start !== 'open') {
    const offset = start === 'flat' ? 0 : -capRadius(0);
    builder.fan(
      builder.vertex(add(frames[0].point, scale(frames[0].tangent, offset))),
      [...rings[0]].reverse(),
    );
  }
  if (end !== 'open') {
    const offset = end === 'flat' ? 0 : capRadius(last.s);
    builder.fan(builder.vertex(add(last.point, scale(last.tangent, offset))), rings[rings.length - 1]);
  }
  return builder.mesh();
}
