import type { Vec3 } from '../foundation/vector.js';
import type { CmH2O, Fraction, GPerDl, LPerMin, Mm, MmHg, Percent } from '../foundation/unit-types.js';

/** A checked case: every quantity in the unit that its key carries, every path resolved. Values that the file leaves out are undefined. */
export interface Case {
  id: string;
  title?: string;
  purpose: 'clinical' | 'teaching' | 'demo';
  scan: Scan;
  patient: Patient;
  blood: {
    haemoglobinGDl?: GPerDl;
    haematocritFraction?: Fraction;
    ferritinUgL?: number;
    transferrinSaturationFraction?: Fraction;
  };
  gases: GasSample[];
  circulation: {
    cardiacOutputLMin?: LPerMin;
    cardiacOutputMethod?: 'thermodilution' | 'fick-measured' | 'fick-assumed' | 'echo' | 'mri';
    meanPaPressureMmHg?: MmHg;
    wedgePressureMmHg?: MmHg;
    oxygenUptakeMlMin?: number;
    oxygenUptakeMethod?: 'measured' | 'assumed';
  };
  lesion: {
    side?: 'left' | 'right';
    lobe?: Lobe;
    segments: string[];
    /** As seen on the angiogram; absent: derived from the feeders. */
    kind?: 'simple' | 'complex' | 'diffuse';
    /** ISO date of the last closure, if the scan is after it. */
    treated?: string;
    /** Lesions in either lung that are in none of these surfaces. */
    otherLesions?: YesNoUnknown;
  };
  surfaces?: Surfaces;
  shelf?: InputPath;
  planned: {
    date?: string;
    approach: 'auto' | 'embolise' | 'resect';
    /** The hospital's own limits for one session. */
    session?: { contrastLimitMl?: number; oneLung?: boolean; mostFeeders?: number; gapDays?: number };
  };
  surgery: {
    oneLungVentilation?: YesNoUnknown;
    leakTest?: { cmH2O: CmH2O; asWritten: string };
    extent?: 'lobe' | 'segments' | 'wedge';
    /** The extent of plan B, if it is not the lobe; as written, S1 to S10. */
    segments?: string[];
    /** Segments that are no longer ventilated. */
    obstructedSegments?: string[];
  };
  /** Present if the case says anything about a bleed. */
  bleeding?: Bleeding;
  /** Whom to call, in the order of the file, as written. */
  team?: { role: string; contact: string }[];
  /** What has been checked; absent: still to be confirmed. */
  atHand: { [item in AtHandItem]?: YesNoUnknown };
  print: {
    scale: number;
    process?: 'material-extrusion' | 'vat-photopolymerisation' | 'material-jetting' | 'powder-bed';
    wallMm?: Mm;
    hollow: boolean;
    cut?: PrintCut;
    /** Default: `auto`. */
    struts?: 'auto' | 'yes' | 'no';
    /** Width, depth and height of the printer's build space. */
    buildVolumeMm?: Vec3;
    /** Default: `superior`. */
    buildUp?: PatientDirection;
  };
  expected: Expectation[];
  /** `FILE:LINE:COLUMN` of a path such as `gases[0].po2`, or of its nearest parent; for messages. */
  locate(path: string): string;
}

/** The CT scan that the surfaces come from. */
export interface Scan {
  date?: string;
  sliceThicknessMm?: Mm;
  inPlaneMm?: Mm;
  series?: InputPath;
  seriesNumber?: number;
  /** Lengths as written in the file, with half a unit of their last digit, mm. */
  written?: {
    sliceThickness?: { text: string; roundingMm: Mm };
    inPlane?: { text: string; roundingMm: Mm };
  };
}

export type PatientDirection = 'left' | 'right' | 'anterior' | 'posterior' | 'superior' | 'inferior';

/** Where the printed model is cut, in coordinates of the surfaces. Half A is on the side of the normal or the axis. */
export type PrintCut =
  | { by: 'plane'; pointMm: Vec3; normal: Vec3 }
  | { by: 'axis'; axis: PatientDirection; atMm: Mm }
  | { by: 'neck'; vessel: string };

export type Lobe = 'upper' | 'middle' | 'lingula' | 'lower';
export type YesNoUnknown = 'yes' | 'no' | 'unknown';

/** What plan A (the first three) and plan B need in the operating theatre, which only the team can confirm. */
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

export interface Bleeding {
  now?: YesNoUnknown;
  within24h?: YesNoUnknown;
  stable?: YesNoUnknown;
  into?: 'airway' | 'chest' | 'both' | 'unknown';
  /** ISO date. */
  on?: string;
}

export interface Patient {
  ageYears?: number;
  sex?: 'female' | 'male' | 'other' | 'unknown';
  weightKg?: number;
  heightCm?: number;
  pregnant?: YesNoUnknown;
  gestationWeeks?: number;
  history: string[];
  hht: {
    epistaxis?: YesNoUnknown;
    telangiectasia?: YesNoUnknown;
    visceralLesion?: YesNoUnknown;
    firstDegreeRelative?: YesNoUnknown;
  };
  /** undefined: the case does not say; an empty list: none known. */
  allergies?: string[];
  /** Also `yes` if only the agent is named. */
  anticoagulated?: YesNoUnknown;
  /** As written; `lastDose` is an ISO date, or date and time of day. */
  anticoagulant?: { agent?: string; dose?: string; lastDose?: string };
  /** As written, unverified. */
  bloodGroup?: string;
  /** Pulse oximetry on room air, 0..1. */
  oximetry?: { lyingFraction?: Fraction; standingFraction?: Fraction };
  heartRatePerMin?: number;
  creatinineUmolL?: number;
  egfrMlMin173?: number;
  spirometry: { fev1L?: number; fev1Percent?: Percent; dlcoPercent?: Percent };
}

export interface GasSample {
  name: string;
  when: 'before' | 'after';
  /** ISO date of the sample. */
  on?: string;
  fio2?: Fraction;
  minutesOnOxygen?: number;
  site: 'arterial' | 'mixed-venous';
  po2MmHg?: MmHg;
  pco2MmHg?: MmHg;
  ph?: number;
  /** Measured by co-oximetry, 0..1. */
  so2Fraction?: Fraction;
  temperatureC?: number;
  altitudeM?: number;
  barometricMmHg?: MmHg;
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
  /** In the unit of the mesh, as written; mm from a scan. */
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
  unitMm: Mm;
  frame: 'LPS' | 'RAS' | 'unknown';
  /** Cracks up to this width are closed; default: none. */
  mendMm?: Mm;
  /** Loose pieces below this volume are left out; default: none. */
  dropBelowMm3?: number;
  /** Exactly one of the four. */
  parts?: Part[];
  whole?: { mesh: InputPath; ends: VesselEnd[]; sac?: Vec3; path: string };
  labels?: { file: InputPath; parts: LabelPart[]; path: string };
  fromScan?: FromScan;
}

/** A surface that is made from the CT series, from points in mm in the axes of `Surfaces.frame`; LPS or RAS. */
export interface FromScan {
  ends: VesselEnd[];
  sac: Vec3;
  /** Who checked the proposal, as written. */
  confirmedBy?: string;
  /** SHA-256 of the surface that was checked, in lower case. */
  confirmedSurface?: string;
  path: string;
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
  diameterMm: Mm;
  lengthMm?: Mm;
  /** Inner lumen that the delivery catheter must have. */
  needsLumenMm?: Mm;
  inStock?: number;
  leadTimeDays?: number;
  nickel?: YesNoUnknown;
  /** Range of vessel calibres in this device's instructions for use; replaces the generic window. */
  vesselMinMm?: Mm;
  vesselMaxMm?: Mm;
}
