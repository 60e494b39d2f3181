import {
  add,
  cross,
  distance,
  normalize,
  perpendicular,
  scale,
  type Vec3,
} from '../../src/foundation/vector.js';
import { sacBody } from '../../src/phantoms/field.js';
import { type LesionPlan, type VesselPlan, vesselsOf } from '../../src/phantoms/lesion.js';

/** Where stems leave a vessel, as fractions of its course, and how long each of their pieces is, mm. */
const PLACES = [0.25, 0.55];
const PIECE_MM = 12;
/**
 * Radius law of least work with two equal daughters (Murray, Proc Natl Acad Sci 1926;12:207): each has this fraction of the
 * parent's calibre.
 */
const DAUGHTER = 2 ** (-1 / 3);
const STEM = 0.6;
/** Half the angle between two daughters: Murray 1926, 37.5 degrees for equal ones. */
const HALF_ANGLE = (37.5 * Math.PI) / 180;
const CLEAR_MM = 2;

/**
 * Normal vessels of the lung that leave those of a lesion away from the sac and fork once, clear of everything else by 2 mm;
 * none touches the sac. Vessels with no room for a stem have none.
 */
export function normalTree(plan: LesionPlan): VesselPlan[] {
  const sac = sacBody(plan.sac);
  const placed: { at: Vec3; radiusMm: number; of: string }[] = [...vesselsOf(plan)].flatMap(([of, vessel]) =>
    Array.from({ length: Math.floor(vessel.axis.lengthMm) + 1 }, (_, s) => ({
      at: vessel.axis.pointAt(s),
      radiusMm: vessel.calibreAt(s) / 2,
      of,
    })),
  );
  const tree: VesselPlan[] = [];
  for (const [of, { axis, calibreAt, plan: parent }] of vesselsOf(plan)) {
    if (parent.role === 'branch') continue;
    PLACES.forEach((place, p) => {
      const s = place * axis.lengthMm;
      const [from, along] = [axis.pointAt(s), axis.tangentAt(s)];
      const across = perpendicular(along);
      const stemMm = STEM * calibreAt(s);
      for (let turn = 0; turn < 12; turn++) {
        const angle = (Math.PI * turn) / 6;
        const side = add(scale(across, Math.cos(angle)), scale(cross(along, across), Math.sin(angle)));
        const out = normalize(add(side, scale(along, -0.6)));
        const fork = add(from, scale(out, PIECE_MM));
        const flat = normalize(cross(out, along));
        const daughters = [-1, 1].map((sign) => {
          const way = add(scale(out, Math.cos(HALF_ANGLE)), scale(flat, sign * Math.sin(HALF_ANGLE)));
          return [add(fork, scale(way, PIECE_MM)), add(fork, scale(way, PIECE_MM / 2)), fork];
        });
        const stem = [fork, add(from, scale(out, PIECE_MM / 2)), from];
        const points = [stem, ...daughters].flatMap((line) => sampled(line));
        const isClear = points.every(
          (q) =>
            sac.value(q) > stemMm / 2 + CLEAR_MM &&
            placed.every(
              (other) =>
                (other.of === of && distance(q, from) < calibreAt(s) / 2 + 4) ||
                distance(q, other.at) > other.radiusMm + stemMm / 2 + CLEAR_MM,
            ),
        );
        if (!isClear) continue;
        const name = `${of}-${p}`;
        const vessel = (end: string, axisMm: Vec3[], calibreMm: number, leaves: string): VesselPlan => ({
          name: name + end,
          role: 'branch',
          of: leaves,
          axisMm,
          calibre: { kind: 'constant', calibreMm },
        });
        tree.push(vessel('', stem, stemMm, of));
        daughters.forEach((axisMm, d) => {
          tree.push(vessel(`-${d}`, axisMm, DAUGHTER * stemMm, name));
        });
        placed.push(...points.map((at) => ({ at, radiusMm: stemMm / 2, of: name })));
        break;
      }
    });
  }
  return tree;
}

/** Points of a line through a few, about a millimetre apart. */
function sampled(points: readonly Vec3[]): Vec3[] {
  return points
    .slice(1)
    .flatMap((to, i) =>
      Array.from({ length: PIECE_MM + 1 }, (_, k) =>
        add(scale(points[i], 1 - k / PIECE_MM), scale(to, k / PIECE_MM)),
      ),
    );
}
