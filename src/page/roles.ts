import { COLOURS, MUTED } from '../report/figures/palette.js';
import type { Blood } from './page-types.js';

interface RoleLook {
  text: string;
  colour: string;
  blood: Blood;
  /** How much of the wall is drawn at the start, 0..1: what stands around the lesion is seen through. */
  solid: number;
  /** Stands around the lesion: may be drawn coarsely and never hides it. */
  around: boolean;
}

const look = (text: string, colour: string, blood: Blood, solid = 1): RoleLook => ({
  text,
  colour,
  blood,
  solid,
  around: solid < 1,
});

/** Darker than the yellow of the landing zones, which lie on the vessels beside it. */
const AIRWAY = '#a89a4a';

/** What was not measured, and the tree past the points of the case. */
const PALE = '#b8b8b8';

/** Arteries in blue, veins in red, as anatomists draw them; the same colours as the figures of the plan. */
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

/** What a role is called and how it is drawn. */
export function lookOf(role: string): RoleLook {
  return Object.hasOwn(LOOKS, role) ? LOOKS[role] : look('structure', MUTED, 'none');
}

/** The side that a structure is drawn as; until it is closed, the draining vein itself carries shunted blood. */
export const BLOOD_WORDS: Readonly<Record<Blood, string>> = {
  deoxygenated: 'deoxygenated side (pulmonary artery)',
  oxygenated: 'oxygenated side (pulmonary vein, systemic artery)',
  mixed: 'sac, where blood goes past the lung into the vein',
  none: 'no blood of the lesion',
};
