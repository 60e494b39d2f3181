import type { Vec3 } from '../foundation/vector.js';
import { rotateToLps } from '../geometry/frame.js';
import type { Result, Vessel } from '../result/result.generated.js';

/** One vessel with its places, mm. */
export interface PlacedVessel {
  name: string;
  vessel: Vessel;
  neck?: Vec3;
  /** From the far end to the neck; empty if the result holds no centreline. */
  course: Vec3[];
  calibreMm: number;
}

/** The places of a lesion. */
export interface PlacedLesion {
  vessels: PlacedVessel[];
  /** Middle of the sac, mm. */
  sacMm?: Vec3;
}

/** The places of a result in LPS; unchanged if the result does not state its axes. */
export function placeLesion(result: Result): PlacedLesion {
  const frame = result.frame_axes ?? 'unknown';
  const lps = (point: readonly number[]): Vec3 => rotateToLps(point as Vec3, frame);
  const vessels = Object.entries(result.vessels).map(([name, vessel]): PlacedVessel => {
    const course = (vessel.centreline_mm ?? []).map(lps);
    // a branch has no neck; the place where it meets its parent is used
    const neck = vessel.neck ? lps(vessel.neck.point_mm) : course.at(-1);
    return { name, vessel, course, calibreMm: vessel.calibre_mm.mean, ...(neck && { neck }) };
  });
  return { vessels, ...(result.sac?.centre_mm && { sacMm: lps(result.sac.centre_mm) }) };
}

/** Whether both results state their patient axes. */
export const areAxesKnown = (old: Result, now: Result): boolean =>
  [old, now].every(({ frame_axes }) => frame_axes === 'LPS' || frame_axes === 'RAS');

/** A lesion with all its places transformed. */
export const movedLesion = ({ vessels, sacMm }: PlacedLesion, move: (point: Vec3) => Vec3): PlacedLesion => ({
  vessels: vessels.map((one) => ({
    ...one,
    course: one.course.map(move),
    ...(one.neck && { neck: move(one.neck) }),
  })),
  ...(sacMm && { sacMm: move(sacMm) }),
});
