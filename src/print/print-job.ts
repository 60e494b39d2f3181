import type { Manifold } from 'manifold-3d/manifold';
import type { Case, PartRole, Shelf } from '../case/case.js';
import type { Finding } from '../foundation/finding.js';
import type { Vec3 } from '../foundation/vector.js';
import type { LesionMeasure } from '../geometry/measure.js';
import type { TriangleMesh } from '../mesh/mesh.js';
import type { Rules } from '../rules/rule.js';
import type { PrintRules } from './process.js';
import type { Frame } from './tag.js';
import type { ToleranceBasis } from './tolerance.js';
import type { Workshop } from './workshop.js';

/** One structure to print: a surface in mm, in the axes of the case's files. */
export interface PrintInputPart {
  name: string;
  role: PartRole | 'whole';
  mesh: TriangleMesh;
}

export interface PrintInput {
  parts: readonly PrintInputPart[];
  /** In the same coordinates as the parts. */
  lesion: LesionMeasure;
  print: Case['print'];
  caseId: string;
  side?: 'left' | 'right';
  frame: Frame;
  rules: Pick<Rules, 'byId'>;
  /** Whether the intervals of the lesion include the scan's resolution. */
  isResolutionKnown?: boolean;
  /** The hospital's devices, for the effect of a deviation of the print. */
  shelf?: Shelf;
  /** A mark for the tag and every mesh file: the surface is not confirmed. */
  mark?: string;
}

/** A structure made solid, in print coordinates. */
export interface SolidPart {
  name: string;
  role: PrintInputPart['role'];
  body: Manifold;
  fragments: Manifold[];
  repairs: string[];
}

/** State shared by the steps of one export. */
export interface PrintJob {
  workshop: Workshop;
  input: PrintInput;
  rules: PrintRules;
  tolerances: ToleranceBasis;
  scale: number;
  /** The print's origin in the case's coordinates, mm. */
  originMm: Vec3;
  /** The lesion in print coordinates, at print scale. */
  lesion: LesionMeasure;
  /** 0 for a solid print. */
  wallMm: number;
  findings: Finding[];
}
