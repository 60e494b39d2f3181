/**
 * The data that the page passes to its viewer as JSON. Lengths in mm; coordinates in LPS if the patient's axes are known, else in the axes
 * of the file. The viewer only draws and reads; it computes no clinical number.
 */

/** Which blood a structure carries; shown by colour, pattern and text. */
export type Blood = 'deoxygenated' | 'oxygenated' | 'mixed' | 'none';

export type Triple = [number, number, number];

/** One structure's surface for display. */
export interface ShownStructure {
  id: string;
  name: string;
  role: string;
  roleText: string;
  blood: Blood;
  colour: string;
  /** To be preserved in plan B. */
  spare: boolean;
  supplies?: string;
  /** Initial opacity of the wall, 0..1. */
  solid: number;
  /** Lowest corner and one step of the 16-bit grid, mm. */
  origin: Triple;
  stepMm: number;
  /** Base64, little-endian: 3 unsigned 16-bit numbers per vertex. */
  positions: string;
  /** Base64, little-endian: 3 indices per triangle, of `indexBytes` bytes each. */
  triangles: string;
  indexBytes: 2 | 4;
}

/** A vessel with its sections, from the far end towards the sac. */
export interface ReadVessel {
  id: string;
  name: string;
  roleText: string;
  blood: Blood;
  lengthMm: number;
  centreline: Triple[];
  /** `[at, equivalent, min, max, at a branch's opening (1) or not (0)]`, mm. */
  profile: [number, number, number, number, 0 | 1][];
  neckAtMm?: number;
  neckPoint?: Triple;
  landing?: { fromMm: number; toMm: number; calibreMm: number; centre?: Triple };
  view?: ArmView;
  device?: Ghost;
  spare: boolean;
  supplies?: string;
}

/** Direction from the patient to the detector: LAO and cranial positive, degrees. */
export interface ArmView {
  laoDeg: number;
  cranialDeg: number;
}

/** A device at its unconstrained size. */
export interface Ghost {
  text: string;
  form: 'plug' | 'coil';
  diameterMm: number;
  lengthMm?: number;
}

/** What the picture shows at a step, by ids of structures. */
export interface StepScene {
  focus: string[];
  guard: string[];
  closed: string[];
  /** Id of the vessel whose landing zone and working view are shown. */
  at?: string;
  /** Device drawn in place. */
  placed: string[];
  /** Text for the live region. */
  said: string;
}

/** A crop of the scan on a regular grid in LPS, for slices through a chosen place. */
export interface PageScan {
  /** Centre of the first voxel, and the step in all three directions, mm. */
  origin: Triple;
  stepMm: number;
  /** Voxels along x, y and z. */
  size: Triple;
  /** Slices tiled in rows as one PNG data URL, windowed grey. */
  tiles: string;
  /** Slices per row of the picture. */
  across: number;
  windowText: string;
}

export interface PageData {
  patientAxes: boolean;
  side?: 'left' | 'right';
  structures: ShownStructure[];
  vessels: ReadVessel[];
  sac?: { volumeMl: number; longestMm: number };
  plans: { a: StepScene[]; b: StepScene[] };
  /** Largest distance between the surface shown and the surface measured, mm. */
  displayErrorMm: number;
  scan?: PageScan;
}
