import { InputFailure } from '../../foundation/failure.js';
import { type Finding, finding } from '../../foundation/finding.js';
import { fixed, pointText } from '../../foundation/number-text.js';
import { add, distance, scale, type Vec3 } from '../../foundation/vector.js';
import type { Surface } from '../surface.js';
import { farEnds } from './ends-of.js';

/** A labelled end, in local coordinates. */
export interface LabelledEnd {
  name: string;
  point: Vec3;
  /** `FILE:LINE:COLUMN PATH` of the point in the case file. */
  where: string;
}

/** An open end of the surface, offered in messages. */
export interface OfferedEnd {
  letter: string;
  centre: Vec3;
  calibreMm: number;
}

/** Greatest distance outside the lumen from which a labelled point is moved into it, mm. */
export const LARGEST_SNAP_MM = 3;

/**
 * A place inside the lumen for each labelled end. A point up to 3 mm outside is moved to the middle between
 * the nearest wall and the wall across, with a finding.
 * Throws InputFailure (exit code 2) for points farther outside, naming the nearest open ends.
 */
export function placeEnds(
  surface: Surface,
  ends: readonly LabelledEnd[],
  offered: readonly OfferedEnd[],
  findings: Finding[],
): Vec3[] {
  const problems: string[] = [];
  const all = endsOnce(surface, offered);
  const placed = ends.map((end) => {
    if (surface.isInside(end.point)) return end.point;
    const near = surface.closest(end.point, LARGEST_SNAP_MM);
    if (near) {
      const inward = scale(surface.normal(near.triangle), -1);
      const across = surface.raycast(add(near.point, scale(inward, 1e-4)), inward);
      if (across) {
        findings.push(
          finding(
            'note',
            'end-snapped',
            end.name,
            `its point is ${fixed(near.distance, 1)} mm outside the lumen and was moved into it`,
          ),
        );
        return add(near.point, scale(inward, across.distance / 2));
      }
    }
    problems.push(
      `${end.where}: the point of ${end.name} is more than ${LARGEST_SNAP_MM} mm outside the lumen. ${nearestEnds(surface, end.point, all)}`,
    );
    return end.point;
  });
  if (problems.length > 0) throw new InputFailure(2, problems);
  return placed;
}

/** The ends for messages: those offered, else those proposed from the shape, which are computed once and only on demand. */
export function endsOnce(surface: Surface, offered: readonly OfferedEnd[]): () => readonly OfferedEnd[] {
  let found: readonly OfferedEnd[] | undefined = offered.length > 0 ? offered : undefined;
  return () => {
    found ??= farEnds(surface).ends.map(({ letter, at, calibreMm }) => ({ letter, centre: at, calibreMm }));
    return found;
  };
}

/** Names the nearest ends of the surface, in file coordinates. */
export function nearestEnds(surface: Surface, point: Vec3, ends: () => readonly OfferedEnd[]): string {
  const nearest = [...ends()]
    .sort((a, b) => distance(a.centre, point) - distance(b.centre, point))
    .slice(0, 3);
  if (nearest.length === 0) return 'List the ends with: pavm inspect FILE';
  const text = nearest.map(
    (e) => `${e.letter} at ${pointText(surface.toFile(e.centre))} (${fixed(e.calibreMm, 1)} mm)`,
  );
  return `The nearest ends are ${text.join('; ')} (mm).`;
}
