import { add, cross, normalize, perpendicular, scale, type Vec3 } from '../foundation/vector.js';

/** C-arm position: degrees LAO positive (RAO negative), cranial positive (caudal negative). */
export interface WorkingView {
  laoRaoDeg: number;
  cranCaudDeg: number;
  /** Share of the zone's length that another structure covers in this view, 0..1. */
  overlap: number;
}

export interface ViewReach {
  laoRaoDeg: number;
  cranCaudDeg: number;
}

/** Degrees between positions tried around the vessel. */
const STEP_DEG = 2;

/**
 * The C-arm position perpendicular to the vessel with the least overlap, then the least rotation. The angles are those of the DICOM
 * positioner (PS3.3 X-Ray Acquisition, primary angle RAO to LAO, secondary caudal to cranial; from memory): the direction from the patient
 * to the detector is (sin a cos b, -cos a cos b, sin b) in LPS for LAO a and cranial b. `overlaps(point, direction)` is true if anything
 * else is on the ray. All in LPS. Returns undefined if the C-arm can reach no perpendicular view.
 */
export function workingView(
  zone: readonly Vec3[],
  vesselDirection: Vec3,
  reach: ViewReach,
  overlaps: (point: Vec3, direction: Vec3) => boolean,
): WorkingView | undefined {
  const u = perpendicular(vesselDirection);
  const v = cross(vesselDirection, u);
  let best: WorkingView | undefined;
  for (let degree = 0; degree < 360; degree += STEP_DEG) {
    const phi = (degree * Math.PI) / 180;
    const d = normalize(add(scale(u, Math.cos(phi)), scale(v, Math.sin(phi))));
    const laoRaoDeg = (Math.atan2(d[0], -d[1]) * 180) / Math.PI;
    const cranCaudDeg = (Math.asin(Math.max(-1, Math.min(1, d[2]))) * 180) / Math.PI;
    if (Math.abs(laoRaoDeg) > reach.laoRaoDeg || Math.abs(cranCaudDeg) > reach.cranCaudDeg) continue;
    const hidden = zone.filter((p) => overlaps(p, d) || overlaps(p, scale(d, -1))).length / zone.length;
    const better =
      !best ||
      hidden < best.overlap - 1e-9 ||
      (hidden < best.overlap + 1e-9 &&
        Math.hypot(laoRaoDeg, cranCaudDeg) < Math.hypot(best.laoRaoDeg, best.cranCaudDeg) - 1e-9);
    if (better) best = { laoRaoDeg, cranCaudDeg, overlap: hidden };
  }
  return best;
}
