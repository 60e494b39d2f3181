import type { Vec3 } from '../foundation/vector.js';

/** A checked case: every quantity in the unit its key carries, every path resolved. What the file left out is undefined. */
export interface Case {
  id: string;
  title?: string;
  purpose: 'clinical' | 'teaching' | 'demo';
  scan: { date?: string; sliceThicknessMm?: number; inPlaneMm?: number; series?: InputPath };
  patient: Patient;
  blood: { haemoglobinGDl?: number; haematocritFraction?: number };
  gases: GasSample[];
  circulation: {
    cardiacOutputLMin?: number;
    meanPaPressureMmHg?: number;
    wedgePressureMmHg?: number;
    oxygenUptakeMlMin?: number;
  };
  lesion: {
    side?: 'left' | 'right';
    lobe?: Lobe;
    segments: string[];
    /** As the angiogram told it; left out: concluded from the feeders. */
    kind?: 'simple' | 'complex' | 'diffuse';
    /** ISO date of the last closure, where the scan lies after it. */
    treated?: string;
  };
  surfaces?: Surfaces;
  shelf?: InputPath;
  planned: { date?: string; approach: 'auto' | 'embolise' | 'resect' };
  surgery: { oneLungVentilation?: YesNoUnknown; leakTest?: { cmH2O: number; asWritten: string } };
  /** What somebody has looked for; absent: still to be confirmed. */
  atHand: { [item in AtHandItem]?: YesNoUnknown };
  print: {
    scale: number;
    process?: 'material-extrusion' | 'vat-photopolymerisation' | 'material-jetting' | 'powder-bed';
    wallMm?: number;
    hollow: boolean;
    cut?: PrintCut;
    /** Left out: `auto`. */
    struts?: 'auto' | 'yes' | 'no';
    /** Width, depth and height of the printer's inside. */
    buildVolumeMm?: Vec3;
    /** Left out: `superior`. */
    buildUp?: PatientDirection;
  };
  expected: Expectation[];
  /** `FILE:LINE:COLUMN` of a path such as `gases[0].po2`, or of its nearest parent; for messages. */
  locate(path: string): string;
}

export type PatientDirection = 'left' | 'right' | 'anterior' | 'posterior' | 'superior' | 'inferior';

/** Where the printed model is cut, in coordinates of the surfaces. Half A lies on the side of the normal or the axis. */
export type PrintCut =
  | { by: 'plane'; pointMm: Vec3; normal: Vec3 }
  | { by: 'axis'; axis: PatientDirection; atMm: number }
  | { by: 'neck'; vessel: string };

export type Lobe = 'upper' | 'middle' | 'lingula' | 'lower';
export type YesNoUnknown = 'yes' | 'no' | 'unknown';

/** What plan A (the first three) and plan B want in the room, and only the team can confirm. */
export const AT_HAND_ITEMS = [
  'catheter',
  'snare',
  'balloon',
  'blood',
  'clamps',
  'sutures',
  'stapler',
  'print',
] as const;
export type AtHandItem = (typeof AT_HAND_ITEMS)[number];

/** A file named in the case. `absolute` is for reading only and never reaches an output. */
export interface InputPath {
  /** As written, relative to the case file, with forward slashes. */
  relative: string;
  absolute: string;
}

export interface Patient {
  ageYears?: number;
  sex?: 'female' | 'male' | 'other' | 'unknown';
  weightKg?: number;
  heightCm?: number;
  pregnant?: YesNoUnknown;
  history: string[];
  hht: {
    epistaxis?: YesNoUnknown;
    telangiectasia?: YesNoUnknown;
    visceralLesion?: YesNoUnknown;
    firstDegreeRelative?: YesNoUnknown;
  };
  /** undefined: the case does not say; an empty list: none known. */
  allergies?: string[];
  anticoagulated?: YesNoUnknown;
  egfrMlMin173?: number;
  spirometry: { fev1L?: number; fev1Percent?: number; dlcoPercent?: number };
}

export interface GasSample {
  name: string;
  when: 'before' | 'after';
  fio2?: number;
  minutesOnOxygen?: number;
  site: 'arterial' | 'mixed-venous';
  po2MmHg?: number;
  pco2MmHg?: number;
  ph?: number;
  /** Measured by co-oximetry, 0..1. */
  so2Fraction?: number;
  temperatureC?: number;
  altitudeM?: number;
  barometricMmHg?: number;
  /** Path in the case file, `gases[0]`, for findings. */
  path: string;
}

export type PartRole =
  | 'feeder'
  | 'sac'
  | 'drain'
  | 'branch'
  | 'systemic-feeder'
  | 'airway'
  | 'lobe'
  | 'heart'
  | 'chest-wall';

export interface Part {
  name: string;
  role: PartRole;
  mesh: InputPath;
  /** Object of a multi-object mesh file. */
  object?: string;
  of?: string;
  spare: boolean;
  supplies?: string;
  arisesFrom?: string;
  path: string;
}

export interface VesselEnd {
  name: string;
  role: 'feeder' | 'drain' | 'branch' | 'systemic-feeder';
  /** In the unit of the mesh, as written. */
  at: Vec3;
  of?: string;
  spare: boolean;
  supplies?: string;
  arisesFrom?: string;
  path: string;
}

export interface LabelPart extends Omit<Part, 'mesh' | 'object'> {
  label: number | string;
}

export interface Surfaces {
  unit: 'mm' | 'cm' | 'm' | 'inch';
  /** Millimetres in one mesh unit. */
  unitMm: number;
  frame: 'LPS' | 'RAS' | 'unknown';
  /** Exactly one of the three. */
  parts?: Part[];
  whole?: { mesh: InputPath; ends: VesselEnd[]; sac?: Vec3; path: string };
  labels?: { file: InputPath; parts: LabelPart[]; path: string };
}

export interface Expectation {
  value?: string;
  finding?: string;
  equals?: number | string | boolean;
  within?: number;
  present?: boolean;
  path: string;
}

/** The hospital's own devices. */
export interface Shelf {
  asOf?: string;
  devices: ShelfDevice[];
}

export type DeviceKind = 'vascular-plug' | 'micro-plug' | 'detachable-coil' | 'pushable-coil';

export interface ShelfDevice {
  code: string;
  kind: DeviceKind;
  diameterMm: number;
  lengthMm?: number;
  /** Inner lumen that the delivery catheter must have. */
  needsLumenMm?: number;
  inStock?: number;
  leadTimeDays?: number;
  nickel?: YesNoUnknown;
  /** Vessel range by this device's own instructions for use; takes the place of the generic window. */
  vesselMinMm?: number;
  vesselMaxMm?: number;
}
