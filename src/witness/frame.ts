import { type Finding, finding } from '../foundation/finding.js';
import { coordinates, fixed, rounded } from '../foundation/number-text.js';
import { length, type Vec3 } from '../foundation/vector.js';
import type { Result } from '../result/result.generated.js';
import { numberOf, type Rules, ruleNumber } from '../rules/rule.js';
import { citeOf } from '../rules/source-text.js';
import type { GreyVolume } from '../volume/ct/grey-volume.js';
import { bodyMiddleX } from './body-side.js';
import { type SurfaceInScan, surfaceInScan } from './surface-in-scan.js';
import { type BloodSurface, type EndedVessel, type WallPoint, wallPoints } from './wall-points.js';

/** The surfaces in a scan, with the side stated in the case. */
export interface WitnessInput {
  surfaces: readonly BloodSurface[];
  vessels: readonly EndedVessel[];
  /** Axes of the surfaces; unknown ones are treated as LPS, and the other axes are tried. */
  frame: 'LPS' | 'RAS' | 'unknown';
  side?: 'left' | 'right';
}

const WHERE = 'surfaces';

/**
 * Whether the surfaces match the scan, in the form of the result, with findings. Nothing is moved. `points`, LPS, are the wall points
 * examined; `lumenHu` is the brightness inside.
 */
export function witnessFrame(
  { surfaces, vessels, frame, side }: WitnessInput,
  volume: GreyVolume,
  rules: Rules,
): {
  frame: NonNullable<Result['frame']>;
  findings: Finding[];
  points: WallPoint[];
  shiftMm?: Vec3;
  lumenHu?: number;
} {
  const points = wallPoints(surfaces, vessels, frame === 'RAS');
  const seen = surfaceInScan(points, volume, rules);
  if (!seen)
    return {
      points,
      frame: { verdict: 'unchecked' },
      findings: [
        finding(
          'caution',
          'frame-unchecked',
          WHERE,
          'Too little of the wall of the surfaces is free of cuts and joins to look for it in the scan: nothing was checked against the images.',
        ),
      ],
    };
  const { verdict, shiftMm, best, contrastHu } = seen;
  const findings = verdict === 'fits' ? fitFindings(seen, rules) : [misfit(seen, frame)];
  if (verdict === 'fits' && side !== undefined) {
    const x = points.reduce((sum, { at }) => sum + at[0], 0) / points.length;
    findings.push(...sideFindings(x, side, volume, rules));
  }
  return {
    points,
    shiftMm,
    ...(seen.lumenHu !== undefined && { lumenHu: seen.lumenHu }),
    frame: {
      verdict,
      shift_mm: [rounded(shiftMm[0], 2), rounded(shiftMm[1], 2), rounded(shiftMm[2], 2)],
      ...(best !== undefined && { best }),
      ...(contrastHu !== undefined && { contrast_hu: rounded(contrastHu, 0) }),
    },
    findings,
  };
}

const percent = (share: number): string => fixed(100 * Math.max(0, share), 0);

function misfit({ verdict, best, share, bestShare, shiftMm }: SurfaceInScan, frame: string): Finding {
  const lies = `${percent(share)} % of the wall has contrast in the scan where it is`;
  const would = `${percent(bestShare)} % would have contrast with this change: ${best}`;
  const never = 'Nothing was changed.';
  if (verdict === 'shifted')
    return finding(
      'stop',
      'frame-shifted',
      WHERE,
      `The surface is ${fixed(length(shiftMm), 1)} mm off its place in the scan: ${lies}; ${would}. ${never} Export the surface again in the coordinates of this series.`,
    );
  if (verdict === 'flipped')
    return finding(
      'stop',
      'frame-flipped',
      WHERE,
      `The axes of the surface are not those of the scan (surfaces.frame: ${frame}): ${lies}; ${would}. ${never} Correct surfaces.frame, or export the surface again.`,
    );
  const other = best === undefined ? 'no flip, shift or unit that was tried restores it' : would;
  return finding(
    'stop',
    'frame-elsewhere',
    WHERE,
    `The surface is not in this scan: ${lies}; ${other}. ${never} Check that series and surfaces belong together, and surfaces.unit.`,
  );
}

function fitFindings({ shiftMm, voxelMm, lumenHu }: SurfaceInScan, rules: Rules): Finding[] {
  const findings: Finding[] = [];
  const shift = length(shiftMm);
  if (shift >= numberOf(rules, 'frame-shift-caution') * voxelMm)
    findings.push(
      finding(
        'caution',
        'frame-shift',
        WHERE,
        `The surface is ${fixed(shift, 2)} mm off the wall that the scan shows, by (${coordinates(shiftMm, 2)}) mm, LPS; a voxel is ${fixed(voxelMm, 2)} mm. A shift by half a voxel comes from exports that mistake the corner of a voxel for its middle. Calibres are not affected, places are.`,
      ),
    );
  const faint = ruleNumber(rules, 'scan-faint');
  if (lumenHu !== undefined && lumenHu < faint.value)
    findings.push(
      finding(
        'caution',
        'scan-faint',
        WHERE,
        `The lumen reads ${fixed(lumenHu, 0)} HU, below ${fixed(faint.value, 0)} HU (${citeOf(faint.source)}): too little contrast agent to tell a vessel from its surroundings. Check walls at chest wall, heart and other vessels on an enhanced scan.`,
      ),
    );
  return findings;
}

function sideFindings(x: number, side: 'left' | 'right', volume: GreyVolume, rules: Rules): Finding[] {
  const middle = bodyMiddleX(volume, numberOf(rules, 'frame-body-width'));
  if (middle === undefined) return [];
  const off = x - middle;
  const seen = off > 0 ? 'left' : 'right';
  if (Math.abs(off) < numberOf(rules, 'frame-side-margin') || seen === side) return [];
  return [
    finding(
      'stop',
      'frame-side',
      'lesion.side',
      `The case says ${side}, but the surface is ${fixed(Math.abs(off), 0)} mm to the ${seen} of the middle of the body in the scan. Correct one before anything else.`,
    ),
  ];
}
