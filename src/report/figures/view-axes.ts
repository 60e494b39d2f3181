/** Directions to look from, in the axes of the file, and the letters at the edges of the picture. */
import { otherAxes, scale, type Vec3 } from '../../foundation/vector.js';

/** Patient axes of the coordinates; `unknown`: the views are named by the axes of the file. */
export type ViewFrame = 'LPS' | 'RAS' | 'unknown';

export interface View {
  title: string;
  /** Unit vectors of right, down and away from the viewer, in the axes of the file. */
  right: Vec3;
  down: Vec3;
  away: Vec3;
  letters: { left: string; right: string; top: string; bottom: string };
}

/** A component of a direction below this share, the sine of 15 degrees, gets no letter. Common practice, no source. */
const LETTER_FROM = 0.26;

const PATIENT = ['LR', 'PA', 'HF'] as const;
const FILE = ['x', 'y', 'z'] as const;

/**
 * Letters of a direction, the largest component first: `L`, `HA`. In LPS: R right, L left, A anterior, P posterior,
 * H head, F feet (letters of DICOM PS3.3 Patient Orientation, from memory). Unknown frame: `+x`, `-y`.
 */
export function directionLetters(direction: Vec3, known = true): string {
  return direction
    .map((part, k) => ({ part, k }))
    .filter(({ part }) => Math.abs(part) >= LETTER_FROM)
    .sort((a, b) => Math.abs(b.part) - Math.abs(a.part) || a.k - b.k)
    .map(({ part, k }) => (known ? PATIENT[k]![part > 0 ? 0 : 1]! : `${part > 0 ? '+' : '−'}${FILE[k]!}`))
    .join('');
}

function viewOf(title: string, frame: ViewFrame, right: Vec3, down: Vec3, away: Vec3): View {
  const known = frame !== 'unknown';
  const turn = (p: Vec3): Vec3 => (frame === 'RAS' ? otherAxes(p) : p);
  return {
    title: known ? title : `${title}; patient directions unknown`,
    right: turn(right),
    down: turn(down),
    away: turn(away),
    letters: {
      left: directionLetters(scale(right, -1), known),
      right: directionLetters(right, known),
      top: directionLetters(scale(down, -1), known),
      bottom: directionLetters(down, known),
    },
  };
}

/**
 * The lesion from the front, the back, both sides and below. LPS: x to the patient's left, y to the back, z to the
 * head. The view from the lesion's side is lateral, the opposite one medial; if the side is unknown, they are left and right.
 */
export function sideViews(frame: ViewFrame, side?: 'left' | 'right'): View[] {
  const foot: Vec3 = [0, 0, -1];
  if (frame === 'unknown') {
    const along: [string, Vec3, Vec3, Vec3][] = [
      ['seen along the y axis', [1, 0, 0], foot, [0, 1, 0]],
      ['seen against the y axis', [-1, 0, 0], foot, [0, -1, 0]],
      ['seen against the x axis', [0, 1, 0], foot, [-1, 0, 0]],
      ['seen along the x axis', [0, -1, 0], foot, [1, 0, 0]],
      ['seen along the z axis', [1, 0, 0], [0, 1, 0], [0, 0, 1]],
    ];
    return along.map(([title, right, down, away]) => viewOf(title, frame, right, down, away));
  }
  const named = (from: 'left' | 'right'): string =>
    `${side === undefined ? '' : side === from ? 'lateral: ' : 'medial: '}from the ${from}, front to the ${from}`;
  const left = viewOf(named('left'), frame, [0, 1, 0], foot, [-1, 0, 0]);
  const right = viewOf(named('right'), frame, [0, -1, 0], foot, [1, 0, 0]);
  return [
    viewOf('anterior: from the front', frame, [1, 0, 0], foot, [0, 1, 0]),
    viewOf('posterior: from the back', frame, [-1, 0, 0], foot, [0, -1, 0]),
    ...(side === 'right' ? [right, left] : [left, right]),
    viewOf('from below, front to the top, as on axial CT', frame, [1, 0, 0], [0, 1, 0], [0, 0, 1]),
  ];
}

/**
 * As the C-arm sees it, with the head up as far as the angles allow: the direction to the detector is
 * (sin a cos b, -cos a cos b, sin b) in LPS for LAO a and cranial b, degrees.
 * Source: DICOM PS3.3, X-Ray positioner primary and secondary angle (from memory).
 */
export function armView(title: string, frame: 'LPS' | 'RAS', laoDeg: number, cranialDeg: number): View {
  const [a, b] = [(laoDeg * Math.PI) / 180, (cranialDeg * Math.PI) / 180];
  const [sa, ca, sb, cb] = [Math.sin(a), Math.cos(a), Math.sin(b), Math.cos(b)];
  return viewOf(title, frame, [ca, sa, 0], [sa * sb, -ca * sb, -cb], [-sa * cb, ca * cb, -sb]);
}
