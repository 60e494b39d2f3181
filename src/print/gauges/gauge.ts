import type { Vec3 } from '../../foundation/vector.js';
import type { LesionMeasure } from '../../geometry/measure.js';
import type { TriangleMesh } from '../../mesh/mesh.js';
import type { ToleranceBasis } from '../tolerance.js';

/** One check point, print coordinates, mm. */
export interface Gauge {
  name: string;
  kind: 'diameter' | 'width' | 'span' | 'tag';
  /** What is measured and how the caliper is held. */
  what: string;
  /** For a diameter the middle of the vessel, else the contact of one jaw. */
  point: Vec3;
  /** The contact of the other jaw; absent for a diameter. */
  to?: Vec3;
  /** For a diameter: the vessel, the distance from its far end, its mean width there without wall, and its direction. */
  vessel?: string;
  atMm?: number;
  vesselMm?: number;
  along?: Vec3;
  expectedMm: number;
  toleranceMm: number;
  toleranceSource: string;
  /** For a feeder: deviation at which another device would be chosen; absent without a shelf. */
  deviceChangeMm?: number;
  /** True if the print is thicker there than the vessel. */
  notToSize: boolean;
}

/** A check point without number and tolerance. */
export type GaugeDraft = Omit<Gauge, 'name' | 'toleranceMm' | 'toleranceSource'>;

export interface GaugeInput {
  /** Outer side of the printed model without its tags. */
  outside: TriangleMesh;
  /** The same with its tags. */
  tagged: TriangleMesh;
  /** Everything printed, with the lumen open if hollow: the obstacles for a jaw. */
  printed: TriangleMesh;
  /** In print coordinates and at print scale. */
  lesion: LesionMeasure;
  sac?: TriangleMesh;
  wallMm: number;
  /** Stretches of vessels that were thickened, mm of the print from the far end. */
  thickened: ReadonlyMap<string, readonly { fromMm: number; toMm: number }[]>;
  /** Middle, reader's right and up, width and height of the tag. */
  tag?: { centre: Vec3; right: Vec3; up: Vec3; widthMm: number; heightMm: number };
  tolerances: ToleranceBasis;
}

/** Longest span of a pocket caliper, mm. Common practice, no source. */
export const LONGEST_MM = 150;
