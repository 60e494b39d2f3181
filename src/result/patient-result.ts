import type { Closure, Result } from './result.generated.js';

/** The part of a patient's result shared with that of a case. */
type Shared = Pick<
  Result,
  | 'title'
  | 'purpose'
  | 'tool'
  | 'today'
  | 'inputs'
  | 'baseline'
  | 'shunt'
  | 'shunt_after'
  | 'shunt_change'
  | 'pulmonary_pressure'
  | 'closure_order'
  | 'devices'
  | 'checklist'
  | 'findings'
  | 'cautions'
>;

type Advice = Result['readiness']['recommended'];

/** One lesion in the result of a patient; units in the keys. */
export interface PatientLesion {
  case: string;
  title?: string;
  surface_confirmed?: 'yes' | 'no';
  side?: 'left' | 'right';
  lobe?: string;
  segments?: string[];
  state: 'open' | 'closed' | 'not planned';
  treated?: string;
  feeder_count?: number;
  feeders?: string[];
  largest_feeder_mm?: number;
  flow_share?: number;
  flow_share_range?: [number, number];
  flow_share_is?: 'at-most';
  shunt_fraction?: number;
  recommended?: Advice;
  plan_a_ready?: string;
  plan_b_ready?: string;
  extent?: string;
  stops?: number;
  plan?: string;
  absent_because?: string;
}

/** One session through a catheter; units in the keys. */
export interface Session {
  number: number;
  on?: string;
  on_because?: string;
  lesions: string[];
  sides?: ('left' | 'right')[];
  closes: string[];
  contrast_ml: [number, number];
  devices: {
    vessel: string;
    code?: string;
    kind?: string;
    diameter_mm?: number;
    count?: number;
    ready_by?: string;
  }[];
  shunt_before_fraction?: number;
  shunt_after_fraction?: number;
  shunt_after_interval?: [number, number];
  shunt_after_is?: 'at-least';
  so2_room_air_percent?: number;
  so2_room_air_interval?: [number, number];
  mean_pa_pressure_mmhg?: number;
  absent_because?: string;
}

/** Every number of a plan for a patient with several lesions, as described in `patient-result.schema.json`. */
export interface PatientResult extends Shared {
  format: 'pavm-patient-result/1';
  patient: string;
  scan_date?: string;
  lesions: Record<string, PatientLesion>;
  remainder: 'none' | 'unknown' | 'share';
  remainder_because?: string;
  remainder_share?: number;
  remainder_share_range?: [number, number];
  order: string[];
  order_because?: string[];
  session_limits?: {
    contrast_ml?: number;
    contrast_from?: string;
    contrast_of?: 'hospital' | 'patient';
    one_lung: boolean;
    most_feeders?: number;
    gap_days: number;
    gap_binds: boolean;
  };
  sessions: Session[];
  sessions_because?: string[];
  sessions_proven_fewest?: boolean;
  sessions_without?: { limit: string; sessions: number }[];
  sessions_alternatives?: {
    keeps: 'one_lung' | 'contrast_limit';
    text: string;
    sessions: string[][];
    more_sessions: number;
    more_days: number;
  }[];
  not_planned?: { vessel: string; because: string }[];
  order_list?: { item: string; count: number; ready_by?: string; order_by?: string; for: string[] }[];
  resection_all?: {
    lesions: string[];
    working_segments?: number;
    left_segments?: number;
    predicted_fev1_percent?: number;
    predicted_dlco_percent?: number;
    absent_because?: string;
  };
  closure: Closure[];
  advice: {
    recommended: Advice | 'both';
    because: string[];
    lesions?: Record<string, Advice>;
  };
}
