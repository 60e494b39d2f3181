import type { Vec3 } from '../foundation/vector.js';
import type { Surface } from './surface.js';

/**
 * Queries one surface for many successive points that are close together, as the vertices of a mesh usually are. The distance to the wall
 * changes no faster than the point moves, so one answer also holds for points around it; the surface is queried again only for points
 * beyond them.
 */
export class WallProbe {
  private readonly surface: Surface;
  private readonly centre: Vec3 = [0, 0, 0];
  /** Lower bound of the distance of the wall from `centre`, mm; negative if nothing is known yet. */
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

  /** False if the wall is certainly farther from the point than `mm`; true if it may be nearer. */
  mayReach(p: Vec3, mm: number): boolean {
    if (this.slackMm(p) > mm) return false;
    // queried a little farther than needed, so that the answer also holds for the next points
    return this.look(p, 2 * mm + 1) <= mm;
  }

  /** Lower bound of the wall's distance at this point from the last answer, mm. */
  private slackMm(p: Vec3): number {
    const { centre } = this;
    const dx = p[0] - centre[0];
    const dy = p[1] - centre[1];
    const dz = p[2] - centre[2];
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
