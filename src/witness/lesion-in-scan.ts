import { type Finding, finding } from '../foundation/finding.js';
import { add, otherAxes, subtract, type Vec3 } from '../foundation/vector.js';
import type { VesselMeasure } from '../geometry/measure.js';
import type { Result } from '../result/result.generated.js';
import { numberOf, type Rules } from '../rules/rule.js';
import type { GreyVolume } from '../volume/ct/grey-volume.js';
import { assumedBlur, FWHM_PER_SIGMA, fittedBlur } from './blur.js';
import { type WitnessInput, witnessFrame } from './frame.js';
import { missedFindings } from './missed-findings.js';
import type { LesionToSearch } from './junction.js';
import { type MissedVessel, missedVessels } from './missed-vessels.js';
import { scanRegion } from './scan-region.js';
import { surfacesByName } from './surfaces-by-name.js';
import { type Uncontrasted, uncontrasted } from './uncontrasted.js';
import { vesselWalls } from './vessel-walls.js';

/** The surfaces of a lesion compared with the scan. */
export interface LesionInScan {
  frame: NonNullable<Result['frame']>;
  /** With their walls in the scan, if the surfaces match it; otherwise unchanged. */
  vessels: VesselMeasure[];
  /** Width of the blur at half maximum, mm: in the plane of the slices, and along their normal. */
  blurMm?: [number, number];
  /** In the axes of the surfaces; absent if not searched for. */
  missed?: MissedVessel[];
  uncontrasted?: Uncontrasted[];
  findings: Finding[];
}

/**
 * Compares the surfaces of a lesion with the grey values of its scan: whether they match it and, if so, whether their walls are where the
 * scan shows them. `surfaces` holds the surface of each vessel by name, or one surface of all. Nothing is moved; the image is read at the
 * place where the surfaces fit.
 */
export function lesionInScan(
  input: Omit<WitnessInput, 'vessels' | 'surfaces'> & LesionToSearch,
  volume: GreyVolume,
  rules: Rules,
): LesionInScan {
  const { frame, findings, points, shiftMm, lumenHu = 0 } = witnessFrame(input, volume, rules);
  const unread = { frame, vessels: [...input.vessels] };
  if (frame.verdict !== 'fits' || !shiftMm) return { ...unread, findings };
  const fitted = fittedBlur(points, volume);
  const isFaint = lumenHu < numberOf(rules, 'scan-faint');
  if (!fitted) findings.push(blurUnknown(isFaint));
  if (!fitted && isFaint) return { ...unread, findings };
  const blur = fitted ?? assumedBlur(volume, lumenHu, rules);
  const turn = input.frame === 'RAS' ? otherAxes : (p: Vec3): Vec3 => p;
  const toScan = (p: Vec3): Vec3 => add(turn(p), shiftMm);
  const toSurface = (p: Vec3): Vec3 => turn(subtract(p, shiftMm));
  const surfaceOf = surfacesByName(input.surfaces);
  const placed = input.vessels.flatMap((vessel) => {
    const surface = surfaceOf(vessel.name);
    return surface ? [{ vessel, surface }] : [];
  });
  const scan = { volume, blur, toScan };
  const walls = fitted ? vesselWalls(placed, scan) : { vessels: [], findings: [] };
  const region = scanRegion(input.surfaces, volume, toScan);
  const missed = missedVessels(input, region, scan, rules).map((one) => ({
    ...one,
    pointMm: toSurface(one.pointMm),
    leadsToMm: toSurface(one.leadsToMm),
    endMm: toSurface(one.endMm),
  }));
  const dim = uncontrasted(input, region, scan, rules).map((one) => ({
    ...one,
    pointMm: toSurface(one.pointMm),
  }));
  const read = new Map(walls.vessels.map((vessel) => [vessel.name, vessel]));
  return {
    frame,
    vessels: input.vessels.map((vessel) => read.get(vessel.name) ?? vessel),
    ...(fitted && { blurMm: [FWHM_PER_SIGMA * blur.planeMm, FWHM_PER_SIGMA * blur.normalMm] }),
    missed,
    uncontrasted: dim,
    findings: [...findings, ...walls.findings, ...missedFindings(missed, dim, input.vessels, rules)],
  };
}

function blurUnknown(isFaint: boolean): Finding {
  const searched = isFaint
    ? 'Vessels outside the surfaces were not searched for: the contents of the surfaces are too faint against their surroundings.'
    : 'Vessels outside the surfaces were searched for with an assumed blur.';
  return finding(
    isFaint ? 'caution' : 'note',
    'blur-unknown',
    'scan.series',
    `Too few clean edges were found in the scan to determine its blur: walls were not compared with the surfaces. ${searched} A scan with more contrast, or a surface with more wall in lung, is needed.`,
  );
}
