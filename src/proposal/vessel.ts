import type { Vec3 } from '../foundation/vector.js';
import type { Tube } from './tube.js';

/** A point inside the far end of a vessel, mm LPS of the series. */
export interface SeedEnd {
  name: string;
  role: 'feeder' | 'drain' | 'branch';
  /** For a branch, the vessel it leaves. */
  of?: string;
  at: Vec3;
}

/** A vessel on its way to a surface. */
export interface Vessel {
  end: SeedEnd;
  tube: Tube;
  /** Sections: at the point, at the opening into the sac or parent, and the last whose wall is its own. */
  start: number;
  neck: number;
  last: number;
}
