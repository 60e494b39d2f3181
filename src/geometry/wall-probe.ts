import type { Vec3 } from '../foundation/vector.js';
import type { Surface } from './surface.js';

/**
 * Asks one surface about many points that follow each other closely, as the vertices of a mesh mostly do. The distance
 * to the wall changes no faster than the point moves, so one answer also holds for the points around it; only where
 * it does not reach is the surface asked again.
 */
export class WallProbe {
  private readonly surface: Surface;
  private readonly centre: Vec3 = [0, 0, 0];
  /** The wall is nowhere nearer to `centre` than this, mm; negative: nothing is known yet. */
  private clearMm = -1;
  private inside: boolean | undefined;

  constructor(surface: Surface) {
    this.surface = surface;
  }

  /** Inside or outside; an open surface has no inside. */
  isInside(p: Vec3): boolean {
    if (!this.surface.mayHold(p)) return false;
    if (this.inside === undefined || this.slackMm(p) <= 0) {
      this.look(p, Number.POSITIVE_INFINITY);
      this.inside = this.surface.isInside(p);
    }
    return this.inside;
  }

  /** False where the wall surely lies farther from the point than `mm`; true where it may be as near. */
  mayReach(p: Vec3, mm: number): boolean {
    if (this.slackMm(p) > mm) return false;
    // asked a little farther than needed, so that the answer also serves the next points
    return this.look(p, 2 * mm + 1) <= mm;
  }

  /** What the last answer leaves certain at this point: the wall is at least this far, mm. */
  private slackMm(p: Vec3): number {
    const [x, y, z] = this.centre;
    const [dx, dy, dz] = [p[0] - x, p[1] - y, p[2] - z];
    return this.clearMm - Math.sqrt(dx * dx + dy * dy + dz * dz);
  }

  private look(p: Vec3, reachMm: number): number {
    this.centre[0] = p[0];
    this.centre[1] = p[1];
    this.centre[2] = p[2];
    this.inside = undefined;
    this.clearMm = this.surface.closest(p, reachMm)?.distance ?? reachMm;
    return this.clearMm;
  }
}
