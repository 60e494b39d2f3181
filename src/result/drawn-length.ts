import type { Vessel } from './result.generated.js';

/** Length of a vessel in drawings, mm: its measured length, or that of its centreline or profile if it has no neck. */
export function drawnLengthMm(vessel: Pick<Vessel, 'length_mm' | 'centreline_mm' | 'profile'>): number {
  if (vessel.length_mm !== undefined) return vessel.length_mm;
  const line = vessel.centreline_mm ?? [];
  let sum = 0;
  for (let i = 1; i < line.length; i++)
    sum += Math.hypot(line[i][0] - line[i - 1][0], line[i][1] - line[i - 1][1], line[i][2] - line[i - 1][2]);
  return Math.max(sum, ...vessel.profile.map((s) => s.at_mm));
}
