import type { Manifold } from 'manifold-3d/manifold';
import { cube } from '../foundation/power.js';
import type { Vec3 } from '../foundation/vector.js';
import type { TriangleMesh } from '../mesh/mesh.js';
import type { Workshop } from './workshop.js';

/** Greatest number of samples of the field in one box; the step grows with the box. */
const MOST_SAMPLES = 100_000;
const FINEST_STEP_MM = 0.15;
/** Greatest number of comparisons between boxes. */
const MOST_COMPARISONS = 20_000_000;

/** A cell of the field needs a distance and a winding number (three rays) at about two and a half points. */
const QUESTIONS_A_CELL = 10;

interface Box {
  min: Vec3;
  max: Vec3;
}

/** A solid with its overlapping stretches rebuilt. */
export interface Remeshed {
  solid: Manifold;
  boxes: number;
  boxVolumeMm3: number;
  /** Coarsest step of the field. */
  stepMm: number;
}

/**
 * Mends a closed surface that crosses itself. Around every crossing, and around every triangle that is buried inside the surface's outer
 * side, a box is cut out and filled with the level surface of the distance to the outermost wall (inside means a winding number of at
 * least 1). The surface outside the boxes does not change. The work is subtracted beforehand from `budget`, the steps left for this
 * structure; undefined if that is not enough.
 */
export async function remeshCrossings(
  workshop: Workshop,
  solid: Manifold,
  mesh: TriangleMesh,
  crossingPairs: readonly number[],
  budget: { steps: number },
): Promise<Remeshed | undefined> {
  const { WindingField } = await import('../mesh/winding-field.js');
  const field = new WindingField(mesh, workshop.work);
  const bad = new Set<number>(crossingPairs);
  const triangleCount = mesh.triangles.length / 3;
  for (let t = 0; t < triangleCount; t++) {
    const n = field.normal(t);
    const outside = field.centroid(t).map((c, k) => c + 1e-4 * n[k]) as Vec3;
    if (field.winding(outside) > 0) bad.add(t);
  }
  const boxes = joinedBoxes([...bad].sort((a, b) => a - b).map((t) => triangleBox(mesh, t)));
  if (!boxes) return undefined;
  for (const box of boxes) {
    const volume = volumeOf(box);
    budget.steps -= QUESTIONS_A_CELL * field.questionSteps * (volume / cube(stepFor(volume)));
  }
  if (budget.steps < 0) return undefined;
  let result = solid;
  let stepMm = 0;
  let boxVolumeMm3 = 0;
  const patches: Manifold[] = [];
  for (const box of boxes) {
    const size = [0, 1, 2].map((k) => box.max[k] - box.min[k]);
    const volume = volumeOf(box);
    boxVolumeMm3 += volume;
    const step = stepFor(volume);
    stepMm = Math.max(stepMm, step);
    const cube = workshop.keep(workshop.kernel.Manifold.cube(size as Vec3));
    result = workshop.difference(result, workshop.keep(cube.translate(box.min)));
    const lap = step; // the patch extends past its box, so that the two join in a volume and not in a face
    const reach = 2 * step;
    const value = (p: Vec3): number => {
      const near = field.closest(p, reach);
      const d = Math.max(1e-6, near?.distance ?? reach);
      return field.winding(p) > 0 ? d : -d;
    };
    const bounds = {
      min: box.min.map((c) => c - lap) as Vec3,
      max: box.max.map((c) => c + lap) as Vec3,
    };
    patches.push(workshop.levelSet(value, bounds, step));
  }
  return { solid: workshop.union([result, ...patches]), boxes: boxes.length, boxVolumeMm3, stepMm };
}

const volumeOf = ({ min, max }: Box): number => (max[0] - min[0]) * (max[1] - min[1]) * (max[2] - min[2]);

/** Step of the field in a box of a given volume, mm. */
const stepFor = (volumeMm3: number): number =>
  Math.max(FINEST_STEP_MM, Math.cbrt((2 * volumeMm3) / MOST_SAMPLES));

/** Margin around a bad triangle, mm. */
const MARGIN_MM = 0.4;

function triangleBox({ positions, triangles }: TriangleMesh, t: number): Box {
  const box: Box = { min: [Infinity, Infinity, Infinity], max: [-Infinity, -Infinity, -Infinity] };
  for (let i = 3 * t; i < 3 * t + 3; i++) {
    for (let k = 0; k < 3; k++) {
      const x = positions[3 * triangles[i] + k];
      box.min[k] = Math.min(box.min[k], x - MARGIN_MM);
      box.max[k] = Math.max(box.max[k], x + MARGIN_MM);
    }
  }
  return box;
}

/** Joins overlapping boxes until none overlap; undefined if there are too many to compare. */
function joinedBoxes(start: readonly Box[]): Box[] | undefined {
  let boxes: Box[] = [];
  let comparisons = 0;
  let waiting = [...start];
  while (waiting.length > 0) {
    boxes = [];
    let changed = false;
    for (const next of waiting) {
      comparisons += boxes.length;
      if (comparisons > MOST_COMPARISONS) return undefined;
      const hit = boxes.find((b) =>
        [0, 1, 2].every((k) => b.min[k] <= next.max[k] && b.max[k] >= next.min[k]),
      );
      if (!hit) {
        boxes.push({ min: [...next.min], max: [...next.max] });
        continue;
      }
      changed = true;
      for (let k = 0; k < 3; k++) {
        hit.min[k] = Math.min(hit.min[k], next.min[k]);
        hit.max[k] = Math.max(hit.max[k], next.max[k]);
      }
    }
    if (!changed) break;
    waiting = boxes;
  }
  return boxes;
}
