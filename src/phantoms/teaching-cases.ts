import type { DemoCase } from './demo-cases.js';
import type { LesionPlan, PartResolution } from './lesion.js';
import {
  curlewLesion,
  dunlinLesion,
  egretLesion,
  lapwingLesion,
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

/** The teaching cases whose input is a small CT series. */
export function scanCases(): DemoCase[] {
  return [
    {
      folder: 'lapwing',
      lesion: lapwingLesion(),
      form: 'scan',
      scene: {
        spacing: [0.8, 0.8, 1],
        marginMm: 7,
        blurMm: 1,
        noiseHu: 18,
        seed: 23,
        chestWallX: 96,
        // 1 mm below the drain, and an airway that crosses A1
        passing: [{ at: [66.95, 7.27, -65.2], along: [0.83, -0.55, 0], radiusMm: 1.5 }],
        airway: { at: [65.55, 13.5, -28.8], along: [-0.59, -0.25, -0.77], radiusMm: 2, wallMm: 1 },
        uid: '2.25.90417726',
        date: '20260209',
      },
    },
  ];
}
