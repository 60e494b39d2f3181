import type { DemoCase } from './demo-cases.js';
import type { LesionPlan, PartResolution } from './lesion.js';
import {
  curlewLesion,
  dunlinLesion,
  egretLesion,
  ospreyLesion,
  robinLesion,
  siskinLesion,
  starlingLesion,
  ternAfterLesion,
  ternBeforeLesion,
  ternClosedLesion,
} from './teaching-lesions.js';

/** Coarser than the demonstration cases, so that the whole set stays small. */
const RESOLUTION: PartResolution = { around: 28, stepMm: 1.4, sacFrequency: 13 };

/** The teaching cases of the folder `cases`, in order of their names. */
export function teachingCases(): DemoCase[] {
  const one = (lesion: LesionPlan): DemoCase => ({
    folder: lesion.name,
    lesion,
    form: 'parts',
    resolution: RESOLUTION,
  });
  return [
    curlewLesion(),
    dunlinLesion(),
    egretLesion(),
    ospreyLesion(),
    robinLesion(),
    siskinLesion(),
    starlingLesion(),
    ternAfterLesion(),
    ternBeforeLesion(),
    ternClosedLesion(),
  ].map(one);
}
