import { COLOURS, MUTED } from '../report/figures/palette.js';
import type { Blood } from './page-types.js';

interface RoleLook {
  text: string;
  colour: string;
  blood: Blood;
  /** Initial opacity of the wall, 0..1; structures around the lesion are translucent. */
  solid: number;
  /** Surrounds the lesion: may be drawn coarsely and never hides the lesion. */
  around: boolean;
}

const look = (text: string, colour: string, blood: Blood, solid = 1): RoleLook => ({
  text,
  colour,
  blood,
  solid,
  around: solid < 1,
});

/** Darker than the yellow of the landing zones on the vessels next to it. */
const AIRWAY = '#a89a4a';

/** Parts that were not measured, and the tree beyond the points of the case. */
const PALE = '#b8b8b8';

/** Arteries in blue, veins in red, the convention of anatomists; the same colours as in the figures of the plan. */
const LOOKS: Readonly<Record<string, RoleLook>> = {
  feeder: look('feeding artery', COLOURS.blue, 'deoxygenated'),
  'systemic-feeder': look('systemic feeding artery', COLOURS.orange, 'oxygenated'),
  sac: look('sac', COLOURS.purple, 'mixed'),
  drain: look('draining vein', COLOURS.vermilion, 'oxygenated'),
  branch: look('side branch', COLOURS.skyBlue, 'deoxygenated'),
  whole: look('lesion (one surface)', PALE, 'none'),
  unnamed: look('not measured', PALE, 'none', 0.5),
  'left-out': look('past the points of the case', PALE, 'none', 0.2),
  airway: look('airway', AIRWAY, 'none', 0.5),
  heart: look('heart', MUTED, 'none', 0.2),
  lobe: look('lobe', MUTED, 'none', 0.1),
  'chest-wall': look('chest wall', MUTED, 'none', 0.1),
};

/** The name of a role and how it is drawn. */
export function lookOf(role: string): RoleLook {
  return Object.hasOwn(LOOKS, role) ? LOOKS[role] : look('structure', MUTED, 'none');
}

/** The blood that a structure is drawn with; until closure the draining vein also carries shunted blood. */
export const BLOOD_WORDS: Readonly<Record<Blood, string>> = {
  deoxygenated: 'deoxygenated side (pulmonary artery)',
  oxygenated: 'oxygenated side (pulmonary vein, systemic artery)',
  mixed: 'sac, where blood goes past the lung into the vein',
  none: 'no blood of the lesion',
};
