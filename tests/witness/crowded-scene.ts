import {
  add,
  cross,
  distance,
  dot,
  normalize,
  scale,
  subtract,
  type Vec3,
} from '../../src/foundation/vector.js';
import { sacBody } from '../../src/phantoms/field.js';
import { type LesionPlan, vesselsOf } from '../../src/phantoms/lesion.js';
import type { SceneOptions } from './synthetic-ct.js';

/** Gap between a vessel and a neighbour passing by, mm. */
const GAP_MM = 1;
const PASSING_MM = 1.5;
const AIRWAY = { radiusMm: 2, wallMm: 1.1, gapMm: 0.4 };

/**
 * A chest wall with a rib that cuts into the outermost vessel, a vessel that crosses another at a gap of 1 mm, and an airway
 * next to a third; none comes as close to anything else.
 */
export function crowdedScene(plan: LesionPlan, without?: string): SceneOptions {
  const all = [...vesselsOf(plan)];
  const vessels = all.flatMap(([name, vessel]) => (name === without ? [] : [vessel]));
  const farthest = Math.max(...vessels.map(({ axis }) => axis.pointAt(axis.lengthMm / 3)[0]));
  const passing = beside(plan, vessels[0], PASSING_MM, GAP_MM);
  const airway = beside(plan, vessels[1] ?? vessels[0], AIRWAY.radiusMm + AIRWAY.wallMm, AIRWAY.gapMm);
  return {
    chestWallX: farthest,
    ...(passing && { passing: [{ ...passing, radiusMm: PASSING_MM }] }),
    ...(airway && { airway: { ...airway, radiusMm: AIRWAY.radiusMm, wallMm: AIRWAY.wallMm } }),
  };
}

type PlacedVessel = ReturnType<typeof vesselsOf> extends Map<string, infer V> ? V : never;

/**
 * A straight line that crosses a vessel at this gap and keeps clear of everything else; undefined if none of those tried
 * does.
 */
function beside(
  plan: LesionPlan,
  { axis, calibreAt }: PlacedVessel,
  radiusMm: number,
  gapMm: number,
): { at: Vec3; along: Vec3 } | undefined {
  const all = [...vesselsOf(plan).values()];
  const sac = sacBody(plan.sac);
  for (const part of [0.5, 0.35, 0.25, 0.6])
    for (let turn = 0; turn < 12; turn++) {
      const s = part * axis.lengthMm;
      const along = axis.tangentAt(s);
      const first = normalize(cross(along, Math.abs(along[2]) < 0.8 ? [0, 0, 1] : [1, 0, 0]));
      const angle = (Math.PI * turn) / 6;
      const side = add(scale(first, Math.cos(angle)), scale(cross(along, first), Math.sin(angle)));
      const at = add(axis.pointAt(s), scale(side, calibreAt(s) / 2 + gapMm + radiusMm));
      const line = { at, along: cross(along, side) };
      const isClear =
        all.every((other) =>
          Array.from({ length: Math.floor(other.axis.lengthMm) + 1 }, (_, i) => i).every(
            (i) =>
              (other.axis === axis && Math.abs(i - s) < 6) ||
              away(other.axis.pointAt(i), line) - other.calibreAt(i) / 2 - radiusMm > 1.5 * gapMm + 1,
          ),
        ) &&
        Array.from({ length: 241 }, (_, i) => add(at, scale(line.along, i - 120))).every(
          (p) => sac.value(p) > radiusMm + 2,
        );
      if (isClear) return line;
    }
  return undefined;
}

function away(p: Vec3, { at, along }: { at: Vec3; along: Vec3 }): number {
  return distance(p, add(at, scale(along, dot(subtract(p, at), along))));
}
