import { type Finding, finding } from '../../foundation/finding.js';
import type { Vec3 } from '../../foundation/vector.js';
import type { FollowedVessel } from '../describe-vessel.js';
import type { Way } from '../lumen.js';
import type { BranchOpening } from '../measure.js';
import type { Ring } from '../rough-path.js';
import type { Surface } from '../surface.js';
import { type FollowedLine, followVessel } from './follow-vessel.js';

/** A vessel of a fused surface in the case, with a point in its far end, mm. */
export interface LabelledVessel {
  name: string;
  role: FollowedVessel['role'];
  of?: string;
  point: Vec3;
  where: string;
}

/** A vessel during the steps of measuring. */
export interface Tracked {
  end: LabelledVessel;
  /** Path through the middle of the lumen to the middle of the sac; absent if none was found. */
  way?: Way;
  rings: Ring[];
  /** The last place before the sac that is as narrow as the vessel; absent for a branch. */
  lastNarrow?: Ring;
  followed?: FollowedLine;
  openings: BranchOpening[];
  /** True for an unnamed end, which serves only as a branch. */
  isUnnamed?: boolean;
}

/** Follows a vessel along its rings, or along the given ones; adds a finding if that fails. */
export function follow(
  surface: Surface,
  vessel: Tracked,
  findings: Finding[],
  rings: readonly Ring[] = vessel.rings,
): void {
  vessel.followed = followVessel(surface, rings, vessel.lastNarrow);
  if (!vessel.followed && rings.length > 0)
    findings.push(
      finding(
        'stop',
        'vessel-not-followed',
        vessel.end.name,
        'no centreline could be followed from its end to the sac',
      ),
    );
}
