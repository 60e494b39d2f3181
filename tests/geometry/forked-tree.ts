import { normalize, scale, type Vec3 } from '../../src/foundation/vector.js';
import {
  axisIntoSac,
  axisOfBranch,
  type LesionPlan,
  type VesselPlan,
  vesselsOf,
} from '../../src/phantoms/lesion.js';

const SAC = { centreMm: [0, 0, 0] as Vec3, semiAxesMm: [8, 8, 8] as [number, number, number] };
export const CALIBRE = { A1: 4, V1: 4.5, twig: 2.6 };

const straight = (name: 'A1' | 'V1', towards: Vec3, farMm: number): VesselPlan => ({
  name,
  role: name === 'A1' ? 'feeder' : 'drain',
  axisMm: axisIntoSac(
    SAC,
    towards,
    [farMm, farMm / 2 + 8].map((far) => scale(normalize(towards), far)),
    1.5,
  ),
  calibre: { kind: 'constant', calibreMm: CALIBRE[name] },
});

/** A feeder and a vein that fork far from the sac, as in a vascular tree; `more`: other vessels. */
export function tree(more: VesselPlan[] = []): LesionPlan {
  const plan: LesionPlan = {
    name: 'tree',
    sac: SAC,
    vessels: [straight('A1', [-1, 0.2, 0.3], 62), straight('V1', [1, -0.3, 0.1], 55)],
    neighbours: [],
    blendMm: 0.8,
  };
  const vessels = vesselsOf(plan);
  const twig = (name: string, of: string, leavesAtMm: number, turn: number): VesselPlan => ({
    name,
    role: 'branch',
    axisMm: axisOfBranch(vessels.get(of)!.axis, leavesAtMm, Math.PI / 2.5, turn, 16),
    calibre: { kind: 'constant', calibreMm: CALIBRE.twig },
    of,
    leavesAtMm,
  });
  plan.vessels.push(twig('T1', 'A1', 7, 0), twig('T2', 'A1', 14, 2), twig('T3', 'V1', 8, 1), ...more);
  return plan;
}

/** Axes of the tree's vessels, from their far ends. */
export const axes = vesselsOf(tree());
