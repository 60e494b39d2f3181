import { add, cross, dot, perpendicular, scale, type Vec3 } from '../../foundation/vector.js';
import type { Surface } from '../../geometry/surface.js';

/** Width of a caliper's jaw, and the clearance it needs next to the print, mm. Common practice, no source. */
const JAW_MM = 4;
/** How far a flat jaw extends past its contact, and back from it, mm. Common practice, no source. */
const JAW_PAST_MM = 3;
const JAW_LENGTH_MM = 25;
/** Depth of a jaw behind its flat, mm. Common practice, no source. */
const JAW_DEPTH_MM = 16;
/** A protrusion that extends less than this past a flat jaw does not hold the jaw off, mm. */
const TOUCH_MM = 0.01;
/** No point of a jaw is farther from its contact than this in the plane of the flat, mm² (with room for rounding). */
const FARTHEST_OF_JAW_MM2 = 1.001 * (JAW_LENGTH_MM ** 2 + (JAW_MM / 2) ** 2);
/** Sides from which a caliper may be held. */
const HOLDS = 24;

/** Whether there is room for jaws on both sides of a vessel in at least two of twelve directions. */
export function jawsReach(printed: Surface, point: Vec3, along: Vec3): boolean {
  const u = perpendicular(along);
  const v = cross(along, u);
  let free = 0;
  for (let i = 0; i < 12; i++) {
    const angle = (Math.PI * i) / 12;
    const side = add(scale(u, Math.cos(angle)), scale(v, Math.sin(angle)));
    if ([side, scale(side, -1)].every((d) => isFreeBeyondWall(printed, point, d))) free++;
  }
  return free >= 2;
}

/** From inside, out through the last wall of this vessel, and then free for a jaw's thickness. */
function isFreeBeyondWall(printed: Surface, from: Vec3, direction: Vec3): boolean {
  let at = from;
  for (let walls = 0; walls < 3; walls++) {
    const hit = printed.raycast(at, direction);
    if (!hit) return walls > 0;
    const leaves = dot(printed.normal(hit.triangle), direction) > 0;
    const beyond = add(hit.point, scale(direction, 1e-3));
    if (leaves) {
      const next = printed.raycast(beyond, direction, JAW_MM);
      if (!next) return true;
    }
    at = beyond;
  }
  return false;
}

/** Whether both tips have room for a jaw beyond them, on the line through both. */
export const tipsAreFree = (printed: Surface, from: Vec3, to: Vec3, direction: Vec3): boolean =>
  !printed.raycast(add(to, scale(direction, 0.05)), direction, JAW_MM) &&
  !printed.raycast(add(from, scale(direction, -0.05)), scale(direction, -1), JAW_MM);

/**
 * Whether both jaws of a caliper can lie flat at two places, held from the same side, and touch only those places: nothing protrudes past
 * either jaw along its length.
 */
export function jawsLieFlat(printed: Surface, low: Vec3, high: Vec3, direction: Vec3): boolean {
  const u = perpendicular(direction);
  const v = cross(direction, u);
  const [ux, uy, uz] = u;
  const [vx, vy, vz] = v;
  const isHeld = new Array<boolean>(HOLDS).fill(true);
  const holds = isHeld.map((_, i): [number, number] => {
    const angle = (2 * Math.PI * i) / HOLDS;
    return [Math.cos(angle), Math.sin(angle)];
  });
  for (const [contact, outwards] of [
    [low, scale(direction, -1)],
    [high, direction],
  ] as const) {
    const { positions } = printed;
    const [px, py, pz] = contact;
    const [ox, oy, oz] = outwards;
    for (let p = 0; p < positions.length; p += 3) {
      const x = positions[p] - px;
      const y = positions[p + 1] - py;
      const z = positions[p + 2] - pz;
      const height = x * ox + y * oy + z * oz;
      if (height < TOUCH_MM || height > JAW_DEPTH_MM) continue;
      const a = x * ux + y * uy + z * uz;
      const b = x * vx + y * vy + z * vz;
      if (a * a + b * b > FARTHEST_OF_JAW_MM2) continue;
      for (let i = 0; i < HOLDS; i++) {
        if (!isHeld[i]) continue;
        const [c, s] = holds[i];
        const back = a * c + b * s;
        if (back > -JAW_PAST_MM && back < JAW_LENGTH_MM && Math.abs(b * c - a * s) < JAW_MM / 2)
          isHeld[i] = false;
      }
    }
    if (!isHeld.includes(true)) return false;
    // An obstacle wider than the jaw has no corner there: a plate, a long rod.
    const start = add(contact, scale(outwards, 0.05));
    holds.forEach(([c, s], i) => {
      for (const back of [-JAW_PAST_MM, 0, JAW_LENGTH_MM / 4, JAW_LENGTH_MM / 2, JAW_LENGTH_MM])
        for (const aside of [-JAW_MM / 2, JAW_MM / 2]) {
          if (!isHeld[i]) return;
          const [a, b] = [back * c - aside * s, back * s + aside * c];
          const from = add(start, add(scale(u, a), scale(v, b)));
          if (printed.raycast(from, outwards, JAW_DEPTH_MM)) isHeld[i] = false;
        }
    });
  }
  return isHeld.includes(true);
}

/** Tilt of a caliper while searching for its largest reading, degrees. */
const TILTS_DEG = [1, 2, 4];
/** Anything this far past a jaw is another structure, mm. */
const PAST_MM = 2;
const FOUND_MM = 0.005;

/** Whether a caliper tilted about any of the axes reads no more than `widthMm`, that is, nothing next to either jaw protrudes. */
export function readsNoMore(
  { positions }: Surface,
  [mx, my, mz]: Vec3,
  direction: Vec3,
  widthMm: number,
  axes: readonly Vec3[],
): boolean {
  return axes.every((axis) =>
    TILTS_DEG.flatMap((deg) => [deg, -deg]).every((deg) => {
      const tilt = (deg * Math.PI) / 180;
      const [dx, dy, dz] = add(
        scale(direction, Math.cos(tilt)),
        scale(cross(axis, direction), Math.sin(tilt)),
      );
      const mostMm = widthMm / 2 + PAST_MM;
      let low = 0;
      let high = 0;
      for (let p = 0; p < positions.length; p += 3) {
        const x = positions[p] - mx;
        const y = positions[p + 1] - my;
        const z = positions[p + 2] - mz;
        const h = x * dx + y * dy + z * dz;
        if (h < high && h > low) continue;
        if (Math.abs(h) > mostMm) continue;
        if (x * x + y * y + z * z - h * h > JAW_PAST_MM * JAW_PAST_MM) continue;
        if (h < low) low = h;
        else high = h;
      }
      return high - low <= widthMm + FOUND_MM;
    }),
  );
}
