import { describe, expect, it } from 'vitest';
import { measureParts, type PartSurface } from '../../src/geometry/measure-parts.js';
import { ploverLesion } from '../../src/phantoms/demo-lesions.js';
import type { LesionPlan } from '../../src/phantoms/lesion.js';
import { randomLesion } from '../../src/phantoms/random-lesion.js';
import { truthOfParts } from '../../src/phantoms/truth.js';
import { loadRules } from '../../src/rules/load-rules.js';
import { type VoxelGrid, VoxelRuns } from '../../src/volume/label-map.js';
import { labelSurface } from '../../src/volume/label-surface.js';
import { IS_LONG } from '../geometry/make.js';
import { labelNumbers, labelVolume } from './label-volume.js';

const rules = loadRules();

/** The lesion as measured from labels on a grid of this spacing. */
function measuredFrom(lesion: LesionPlan, spacing: [number, number, number], shift: number) {
  const { sizes, origin, labels } = labelVolume(lesion, spacing, shift);
  const axes = spacing.map((mm, i) => [0, 1, 2].map((k) => (k === i ? mm : 0)) as [number, number, number]);
  const grid: VoxelGrid = { sizes, origin, axes, isOriented: true, notes: [] };
  const runs = new Map<string, VoxelRuns>();
  for (const [name, label] of labelNumbers(lesion)) {
    const own = new VoxelRuns(sizes[1], { file: 'labels.nii', label: 1 });
    for (let at = 0; at < labels.length; at++) {
      if (labels[at] !== label) continue;
      const first = at;
      while (labels[at] === label && at % sizes[0] >= first % sizes[0]) at++;
      own.add(Math.floor(first / sizes[0]), first % sizes[0], (first % sizes[0]) + at - first);
      at--;
    }
    runs.set(name, own);
  }
  const parts = [...runs].map(([name, own]): PartSurface => {
    const plan = lesion.vessels.find((v) => v.name === name);
    const opensInto = plan?.role === 'branch' ? plan.of : plan && 'sac';
    const joined = opensInto === undefined ? [] : [runs.get(opensInto)!];
    const mesh = labelSurface(grid, own, joined);
    return { name, role: plan?.role ?? 'sac', of: plan?.of, spare: false, mesh, capTriangles: [] };
  });
  const scan = { sliceThicknessMm: spacing[2], inPlaneMm: spacing[0] };
  return measureParts(parts, rules.measure, { scan, hasAxes: true }).lesion;
}

type Trial = [string, LesionPlan, [number, number, number]];
const TRIALS: Trial[] = [['random 113, 0.6 mm', randomLesion(113), [0.6, 0.6, 0.6]]];
const MORE: Trial[] = [
  ['plover, 0.7 x 0.7 x 1.0 mm', ploverLesion(), [0.7, 0.7, 1]],
  ['plover, 0.6 mm', ploverLesion(), [0.6, 0.6, 0.6]],
  ['random 107, 0.6 mm', randomLesion(107), [0.6, 0.6, 0.6]],
];

// exact truth: tests/phantoms
describe.each<Trial>([...TRIALS, ...(IS_LONG ? MORE : [])])('labels of %s', (name, lesion, spacing) => {
  it('give landing calibres within their intervals, necks within 1 mm and the sac within 1 %', () => {
    const measured = measuredFrom(lesion, spacing, name.length / 37);
    const truth = truthOfParts(lesion);
    expect(Math.abs(measured.sac!.volumeMl! / truth.sacVolumeMl - 1)).toBeLessThan(0.01);
    let landings = 0;
    for (const vessel of measured.vessels) {
      const exact = truth.vessels[vessel.name];
      if (!exact?.landing) continue;
      landings++;
      const [low, high] = vessel.landing!.calibreIntervalMm!;
      expect(low).toBeLessThan(exact.landing.calibreMm);
      expect(high).toBeGreaterThan(exact.landing.calibreMm);
      expect(Math.abs(vessel.landing!.calibreMm - exact.landing.calibreMm)).toBeLessThan(0.15);
      expect(Math.abs(vessel.neck!.atMm - exact.neckAtMm!)).toBeLessThan(1);
    }
    expect(landings).toBeGreaterThanOrEqual(2);
  });
});
