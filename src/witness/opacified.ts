import type { Vec3 } from '../foundation/vector.js';
import type { VesselMeasure } from '../geometry/measure.js';
import { Polyline } from '../geometry/polyline.js';
import { cellOf, type EvenGrid } from '../grid/even-grid.js';
import type { ScanBlur } from './blur.js';

/** Soft tissue without contrast agent, HU: common practice, no source. */
export const SOFT_HU = 50;
/** Mean of lung, HU: common practice, no source. */
export const LUNG_HU = -820;

/** Threshold for opacified places, HU: above soft tissue by its noise, at most half way to the lumen. */
export const opacifiedHu = ({ lumenHu, noiseHu }: Pick<ScanBlur, 'lumenHu' | 'noiseHu'>): number =>
  SOFT_HU + Math.min((lumenHu - SOFT_HU) / 2, Math.max(75, 6 * noiseHu));

/**
 * Distance of each place from the nearest one that is not `isIn`, mm, by steps of 3, 4 and 5 thirds (Borgefors, Comput Vis Graph Image
 * Process 1986;34:344, from memory).
 */
export function depthsOf(region: EvenGrid, isIn: (place: number) => boolean): Float32Array {
  const [nx, ny, nz] = region.size;
  const out = new Float32Array(nx * ny * nz);
  for (let place = 0; place < out.length; place++) out[place] = isIn(place) ? 1e6 : 0;
  const offsets: [number, number, number, number][] = [];
  for (let dx = -1; dx <= 0; dx++)
    for (let dy = -1; dy <= 1; dy++)
      for (let dz = -1; dz <= 1; dz++)
        if (dx * 9 + dy * 3 + dz < 0)
          offsets.push([dx, dy, dz, (Math.abs(dx) + Math.abs(dy) + Math.abs(dz) + 2) / 3]);
  const pass = (forward: boolean): void => {
    const sign = forward ? 1 : -1;
    for (let n = 0; n < out.length; n++) {
      const place = forward ? n : out.length - 1 - n;
      if (out[place] === 0) continue;
      const [x, y, z] = cellOf(region.size, place);
      for (const [dx, dy, dz, cost] of offsets) {
        const [a, b, c] = [x + sign * dx, y + sign * dy, z + sign * dz];
        if (a < 0 || b < 0 || c < 0 || a >= nx || b >= ny || c >= nz) continue;
        out[place] = Math.min(out[place], out[(a * ny + b) * nz + c] + cost);
      }
    }
  };
  pass(true);
  pass(false);
  for (let place = 0; place < out.length; place++)
    out[place] = out[place] >= 1e6 ? 0 : Math.max(0, out[place] - 0.5) * region.stepMm;
  return out;
}

/** A vessel with its line in the axes of the scan. */
export interface VesselLine {
  vessel: VesselMeasure;
  line: Polyline;
}

export const vesselLines = (vessels: readonly VesselMeasure[], toScan: (point: Vec3) => Vec3): VesselLine[] =>
  vessels.map((vessel) => ({ vessel, line: new Polyline(vessel.centrelineMm.map(toScan)) }));

/** The structure of a place on a surface: its name, or `sac`, with the vessel's line if measured. */
export function structureAt(
  surface: { name: string; role: string },
  lines: readonly VesselLine[],
  at: Vec3,
): { name: string; measured?: VesselLine } {
  if (surface.role === 'sac') return { name: 'sac' };
  const measured =
    surface.role === 'whole'
      ? nearestVessel(lines, at)
      : lines.find(({ vessel }) => vessel.name === surface.name);
  if (measured) return { name: measured.vessel.name, measured };
  return { name: surface.role === 'whole' ? 'sac' : surface.name };
}

/** With one surface of all: the vessel whose wall the place is on; undefined on the sac. */
function nearestVessel(lines: readonly VesselLine[], at: Vec3): VesselLine | undefined {
  return lines.find(({ vessel, line }) => {
    const near = line.project(at);
    const isBeforeNeck = vessel.neck === undefined || near.at < vessel.neck.atMm;
    return isBeforeNeck && near.distanceMm < 0.75 * vessel.calibreMm.max + 0.5;
  });
}
