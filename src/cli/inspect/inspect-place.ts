import { basename } from 'node:path';
import { shownPath } from '../../case/case-files.js';
import { EXIT, InputFailure } from '../../foundation/failure.js';
import { fixed, pointText, rounded } from '../../foundation/number-text.js';
import type { Vec3 } from '../../foundation/vector.js';
import { type GreyVolume, valueAt } from '../../volume/ct/grey-volume.js';
import { reachText } from '../../volume/ct/reach.js';
import type { Tube } from '../../witness/tubes.js';
import { FARTHEST_MM, pointFlag, reachFlag } from '../input/sac-flag.js';
import { refuseForeignFile, writeWhole } from '../output/write-whole.js';
import { isOrHolds, realTarget } from '../output/target.js';

/** `--near`, `--sac`, `--reach` and `--out` of `pavm inspect` on a scan. */
export interface PlaceFlags {
  near?: string;
  sac?: string;
  reach?: string;
  out?: string;
}

export interface AskedPlace {
  flag: '--near' | '--sac';
  at: Vec3;
  reachMm: number;
  out?: string;
}

/** Greatest distance to which vessels are followed, mm: a cube of 160 mm at 0.5 mm has 33 million points. */
const FARTHEST_IN_SCAN_MM = 80;

/** The place requested by the flags, mm LPS; undefined without one. Throws InputFailure (2). */
export function askedPlace({ near, sac, reach, out }: PlaceFlags): AskedPlace | undefined {
  if (near !== undefined && sac !== undefined)
    throw new InputFailure(EXIT.usage, '--near and --sac: give one of them.');
  const flag = near === undefined ? '--sac' : '--near';
  const text = near ?? sac;
  if (text === undefined) {
    if (out === undefined) return undefined;
    throw new InputFailure(
      EXIT.usage,
      '--out: it writes the picture of a place in a scan. Give --near "X,Y,Z" or --sac "X,Y,Z" as well.',
    );
  }
  const at = pointFlag(flag, text, 'mm, patient axes of the series (LPS)');
  return { flag, at, reachMm: reachFlag(reach, FARTHEST_MM), ...(out !== undefined && { out }) };
}

/** The scan around a place. */
export interface PlaceReport {
  json: Record<string, unknown>;
  lines: string[];
  /** The picture, if requested. */
  svg?: string;
}

/**
 * Grey value at a place of a scan and the opacified vessels around it. Throws InputFailure (2) if the place is outside the scan or nothing
 * there is opacified.
 */
export async function placeReport(volume: GreyVolume, asked: AskedPlace): Promise<PlaceReport> {
  const { at, flag, reachMm } = asked;
  const isSac = flag === '--sac';
  const hu = valueAt(volume, ...at);
  if (Number.isNaN(hu))
    throw new InputFailure(
      EXIT.usage,
      `${flag}: the point is outside the scan, or where slices are missing. The scan reaches ${reachText(volume.stack)} (mm, LPS). Check the coordinates and their axes.`,
    );
  if (reachMm > FARTHEST_IN_SCAN_MM)
    throw new InputFailure(
      EXIT.usage,
      `--reach: ${fixed(reachMm, 0)} mm; in a scan up to ${FARTHEST_IN_SCAN_MM} mm is accepted.`,
    );
  const { tubesNear } = await import('../../witness/tubes.js');
  const about = valuesAbout(volume, at);
  const found = tubesNear(volume, at, reachMm, isSac);
  if (found.lumenHu === undefined)
    throw new InputFailure(
      EXIT.usage,
      `${flag}: nothing opacified ${isSac ? 'at the point' : 'within 8 mm of the point'}: ${fixed(hu, 0)} HU were found there, at most ${about.highest} HU within 2 mm. Check the coordinates and their axes, and that the scan has contrast.`,
    );
  const lines = [
    `place                ${pointText(at)} mm (LPS): ${fixed(hu, 0)} HU; within 2 mm ${about.lowest} to ${about.highest} HU, median ${about.median}`,
    ...(found.sac
      ? [
          `sac                  widest place ${fixed(found.sac.widthMm, 1)} mm about ${pointText(found.sac.at)}`,
        ]
      : []),
    `vessels              ${found.tubes.length}, from ${fixed(found.levelHu!, 0)} HU on, within ${fixed(reachMm, 0)} mm; rough, for finding points`,
    ...found.tubes.map(
      (tube, i) =>
        `vessel ${i + 1}`.padEnd(21) +
        `${fixed(tube.calibreMm, 1)} mm wide, ${fixed(tube.lengthMm, 0)} mm long, towards ${towards(tube.direction)}: ${pointText(tube.from)} to ${pointText(tube.to)}${said(tube, isSac)}`,
    ),
  ];
  const json = {
    place: { at_mm: at, hu: rounded(hu, 0), within_2_mm_hu: about },
    ...(found.sac && {
      sac: { at_mm: found.sac.at.map((x) => rounded(x, 1)), width_mm: rounded(found.sac.widthMm, 2) },
    }),
    level_hu: rounded(found.levelHu!, 0),
    vessels: found.tubes.map((tube, i) => ({
      number: i + 1,
      calibre_mm: rounded(tube.calibreMm, 2),
      length_mm: rounded(tube.lengthMm, 1),
      direction: tube.direction.map((x) => rounded(x, 3)),
      ends_mm: [tube.from, tube.to].map((p) => p.map((x) => rounded(x, 1))),
      ...(isSac && { joins_sac: tube.joinsSac }),
      goes_on: tube.goesOn,
      lumen_hu: rounded(tube.lumenHu, 0),
      nearest_mm: rounded(tube.nearestMm, 1),
    })),
  };
  if (asked.out === undefined) {
    lines.push('picture              none; --out FILE.svg writes one with coordinates');
    return { json, lines };
  }
  return { json, lines, svg: await pictureOf(volume, asked, found.tubes, found.lumenHu) };
}

const said = (tube: Tube, isSac: boolean): string =>
  `${isSac && tube.joinsSac ? ', joins the sac' : ''}${tube.goesOn ? ', goes on' : ''}`;

const WORDS = [
  ['right', 'left'],
  ['front', 'back'],
  ['feet', 'head'],
] as const;
/** A component of a direction below this is not named; sine of 22.5 degrees. */
const LEAST_PART = 0.38;

/** `head and left`: the main components of a direction, the largest first. */
function towards(direction: Vec3): string {
  const parts = direction
    .map((x, d) => ({ size: Math.abs(x), word: WORDS[d][x > 0 ? 1 : 0] }))
    .filter(({ size }) => size >= LEAST_PART)
    .sort((a, b) => b.size - a.size);
  return parts.map(({ word }) => word).join(', ');
}

/** Radius and step for sampling the surroundings of a place, mm. */
const ABOUT_MM = 2;
const ABOUT_STEP_MM = 0.5;

function valuesAbout(volume: GreyVolume, at: Vec3): { lowest: number; median: number; highest: number } {
  const values: number[] = [];
  const most = ABOUT_MM / ABOUT_STEP_MM;
  for (let x = -most; x <= most; x++)
    for (let y = -most; y <= most; y++)
      for (let z = -most; z <= most; z++) {
        if (Math.hypot(x, y, z) > most) continue;
        const [dx, dy, dz] = [x, y, z].map((n) => n * ABOUT_STEP_MM);
        const value = valueAt(volume, at[0] + dx, at[1] + dy, at[2] + dz);
        if (!Number.isNaN(value)) values.push(value);
      }
  values.sort((a, b) => a - b);
  const [lowest, median, highest] = [0, values.length >> 1, values.length - 1].map((n) =>
    rounded(values[n], 0),
  );
  return { lowest, median, highest };
}

const SLICE_REACH_MM = 30;
const END_REACH_MM = 15;
const ABOVE_LUMEN_HU = 100;

async function pictureOf(
  volume: GreyVolume,
  { at, reachMm, out }: AskedPlace,
  tubes: readonly Tube[],
  lumenHu: number,
): Promise<string> {
  const [{ brightestAt, sliceAt, VIEWS }, { nearFigure }] = await Promise.all([
    import('../../witness/near-pictures.js'),
    import('../../report/figures/near-figure.js'),
  ]);
  return nearFigure(pictureName(out!), {
    at,
    slices: VIEWS.map((view) => sliceAt(volume, view, at, Math.min(reachMm, SLICE_REACH_MM))),
    brightest: VIEWS.map((view) => brightestAt(volume, view, at, reachMm, lumenHu + ABOVE_LUMEN_HU)),
    tubes,
    ends: tubes.map(({ to }) => sliceAt(volume, VIEWS[0], to, END_REACH_MM)),
  });
}

const pictureName = (out: string): string => basename(out).replace(/\.svg$/i, '');

/** Throws, before anything is read, if the picture cannot be written there. */
export async function checkPicture({ out }: AskedPlace, inputs: readonly string[]): Promise<void> {
  if (out === undefined) return;
  if (!/\.svg$/i.test(out))
    throw new InputFailure(EXIT.usage, '--out: the picture is an SVG. Name a file that ends in .svg.');
  const target = await realTarget(out);
  for (const input of inputs)
    if (isOrHolds(await realTarget(input), target))
      throw new InputFailure(
        EXIT.usage,
        `--out: ${shownPath(basename(out))} is in the folder of the scan. Name another place for the picture.`,
      );
  await refuseForeignFile(target, await pictureTarget(out, inputs), `--out ${basename(out)}`);
}

/** Writes the picture; an existing file is replaced only if this program wrote it. */
export async function writePicture(out: string, svg: string, inputs: readonly string[]): Promise<void> {
  await writeWhole(await pictureTarget(out, inputs), svg);
}

async function pictureTarget(out: string, inputs: readonly string[]) {
  const { isFigure } = await import('../../report/figures/svg.js');
  return {
    path: out,
    flag: '--out',
    inputs,
    isOurs: (text: string): boolean => isFigure(`${pictureName(out)}.svg`, text),
  };
}
