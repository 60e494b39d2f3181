import type { DemoCase } from './demo-cases.js';
import type { LesionPlan, PartResolution } from './lesion.js';
import {
  avocetLeftLower,
  avocetRightMiddle,
  avocetRightUpper,
  godwitLeftUpper,
  godwitRightUpper,
} from './teaching-lesions.js';

/** Several lesions per patient, so coarser than the teaching cases. */
const RESOLUTION: PartResolution = { around: 24, stepMm: 1.8, sacFrequency: 10 };

/** The lesions of the teaching patients of the folder `cases`, in order of their folders. */
export function teachingPatients(): DemoCase[] {
  const of = (patient: string, lesion: LesionPlan): DemoCase => ({
    folder: `${patient}/${lesion.name}`,
    lesion,
    form: 'parts',
    resolution: RESOLUTION,
  });
  return [
    of('avocet', avocetLeftLower()),
    of('avocet', avocetRightMiddle()),
    of('avocet', avocetRightUpper()),
    of('godwit', godwitLeftUpper()),
    of('godwit', godwitRightUpper()),
  ];
}
