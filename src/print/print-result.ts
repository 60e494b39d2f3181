import { rounded } from '../foundation/number-text.js';
import { add, distance, scale, type Vec3 } from '../foundation/vector.js';
import { boundingBox } from '../mesh/measures.js';
import type { Result } from '../result/result.generated.js';
import { buildVolume } from './build-space.js';
import { readingsNeeded } from './agreement.js';
import type { Placement } from './bed.js';
import { errorChain } from './error-chain.js';
import type { Gauge } from './gauges/gauge.js';
import type { PrintJob } from './print-job.js';
import { type PrintedPart, printedBodies, shownTogether } from './printed-part.js';
import type { PrintRules } from './process.js';
import { estimate, overhang } from './readiness.js';
import type { ShapedModel } from './shape-model.js';
import { sleeveDiameterMm } from './thicken.js';

const MM3_PER_ML = 1000;

/** The export with the keys of the result; points in the coordinates of the case and of the print. */
export async function resultOf(
  job: PrintJob,
  shaped: ShapedModel | undefined,
  parts: readonly PrintedPart[],
  gauges: readonly Gauge[],
  bed: readonly Placement[],
): Promise<NonNullable<Result['print']>> {
  const { process } = job.rules;
  const model = parts.find((p) => p.role === 'model');
  const density = process?.densityGCm3;
  const files = fileNames(parts);
  const together = shownTogether(parts);
  const places: Places = {
    toCase: (p) => add(scale(p, 1 / job.scale), job.originMm).map((c) => rounded(c, 3)) as Vec3,
    toPrintMm: (p) => p.map((c) => rounded(c, 2)) as Vec3,
  };
  const time = await estimate(job, together);
  const space = buildVolume(job, printedBodies(parts));
  const hanging = overhang(job, together);
  const chain = errorChain(job, gauges);
  return {
    scale: job.scale,
    ...(process && { process: process.name }),
    hollow: job.wallMm > 0,
    ...(job.wallMm > 0 && { wall_mm: job.wallMm }),
    origin_mm: job.originMm,
    ...(shaped && { model_id: shaped.model.short, model_sha256: shaped.model.sha256 }),
    ...(shaped?.handedness && { handedness: handednessFields(shaped.handedness, places) }),
    ...(shaped?.tags[0] && { tag_lines: shaped.tags[0].lines }),
    ...(model && { size_mm: boundingBox(model.mesh).size.map((s) => rounded(s, 2)) as Vec3 }),
    ...(model &&
      density !== undefined && {
        mass_g: rounded((model.check.volumeMm3 / MM3_PER_ML) * density, 2),
        density_g_cm3: density,
      }),
    ...(process && {
      limits: {
        wall_mm: process.wallMm,
        pin_mm: process.pinMm,
        hole_mm: process.holeMm,
        gap_mm: process.gapMm,
        tolerance_mm: process.toleranceMm,
      },
    }),
    parts: parts.map((part, i) => partFields(part, files[i], places)),
    thickened: thickenedFields(job, shaped),
    gauges: gauges.map((gauge) => gaugeFields(gauge, places)),
    ...(shaped?.cut && { cut: cutFields(shaped.cut, places) }),
    ...(shaped &&
      shaped.struts.length > 0 && { struts: shaped.struts.map((strut) => strutFields(strut, places)) }),
    ...(bed.length > 0 && {
      bed: bed.map(({ part, up, footMm2, isAsked, isOnPoint }) => ({
        name: part.name,
        up,
        foot_mm2: rounded(footMm2, 1),
        asked: isAsked,
        on_point: isOnPoint,
      })),
    }),
    ...(hanging && { overhang: hanging }),
    ...(space && { build_volume: space }),
    ...(time && { estimate: time }),
    ...(gauges.length > 0 && { readings_needed: readingsPlan(job.rules, gauges) }),
    ...(chain.length > 0 && { error_chain: chain }),
    accuracy: job.rules.accuracy,
  };
}

type Print = NonNullable<Result['print']>;

/** A place in the coordinates of the case and of the print; mm. */
interface Places {
  toCase: (p: Vec3) => Vec3;
  toPrintMm: (p: Vec3) => Vec3;
}

const handednessFields = (
  { turn, landmarks }: NonNullable<ShapedModel['handedness']>,
  { toCase, toPrintMm }: Places,
): NonNullable<Print['handedness']> => ({
  turn,
  landmarks: landmarks.map(({ what, at }) => ({ what, point_mm: toCase(at), print_mm: toPrintMm(at) })),
});

const partFields = (
  part: PrintedPart,
  file: string | undefined,
  { toCase, toPrintMm }: Places,
): NonNullable<Print['parts']>[number] => ({
  name: part.name,
  role: part.role,
  file,
  watertight: part.check.isWatertight,
  volume_ml: rounded(part.check.volumeMm3 / MM3_PER_ML, 4),
  ...(part.wall.minWallMm !== undefined && { min_wall_mm: rounded(part.wall.minWallMm, 3) }),
  triangles: part.mesh.triangles.length / 3,
  repairs: part.repairs,
  thin: part.wall.thin.map((t) => ({
    point_mm: toCase(t.at),
    print_mm: toPrintMm(t.at),
    thickness_mm: rounded(t.thicknessMm, 3),
    area_mm2: rounded(t.areaMm2, 2),
  })),
});

/** Stretches thickened for the process, with the lengths and widths of the case. */
const thickenedFields = (job: PrintJob, shaped: ShapedModel | undefined): Print['thickened'] =>
  [...(shaped?.thickened ?? [])].flatMap(([name, stretches]) =>
    stretches.map((s) => ({
      name,
      from_mm: rounded(s.fromMm / job.scale, 2),
      to_mm: rounded(s.toMm / job.scale, 2),
      narrowest_mm: rounded(s.narrowestMm / job.scale, 3),
      printed_mm: rounded(sleeveDiameterMm(s, job.wallMm, job.rules.process!.pinMm), 3),
    })),
  );

const gaugeFields = (g: Gauge, { toCase, toPrintMm }: Places): NonNullable<Print['gauges']>[number] => ({
  name: g.name,
  kind: g.kind,
  what: g.what,
  point_mm: toCase(g.point),
  ...(g.to && { to_mm: toCase(g.to) }),
  ...(g.along && { along: g.along.map((c) => rounded(c, 4)) as Vec3 }),
  print_mm: toPrintMm(g.point),
  ...(g.to && { print_to_mm: toPrintMm(g.to) }),
  expected_mm: rounded(g.expectedMm, 2),
  tolerance_mm: g.toleranceMm,
  tolerance_source: g.toleranceSource,
  ...(g.vessel !== undefined && { vessel: g.vessel }),
  ...(g.deviceChangeMm !== undefined && { device_change_mm: rounded(g.deviceChangeMm, 3) }),
  not_to_size: g.notToSize,
});

const cutFields = (
  { plane, pegs, lugs }: NonNullable<ShapedModel['cut']>,
  { toCase, toPrintMm }: Places,
): NonNullable<Print['cut']> => ({
  point_mm: toCase(plane.point),
  print_mm: toPrintMm(plane.point),
  normal: plane.normal.map((c) => rounded(c, 5)) as Vec3,
  ...(plane.vessel !== undefined && { vessel: plane.vessel }),
  halves: plane.sides.map((side, i) => ({ name: `half-${'AB'[i]}`, side })),
  ...(lugs > 0 && { lugs }),
  pegs: pegs.map((p) => ({
    on: `half-${p.on}`,
    point_mm: toCase(p.at),
    print_mm: toPrintMm(p.at),
    diameter_mm: p.diameterMm,
    length_mm: p.lengthMm,
    fit_mm: p.fitMm,
  })),
});

const strutFields = (
  { from, to, ends, diameterMm }: ShapedModel['struts'][number],
  { toCase, toPrintMm }: Places,
): NonNullable<Print['struts']>[number] => ({
  from,
  to,
  ends_mm: ends.map(toCase) as [Vec3, Vec3],
  print_ends_mm: ends.map(toPrintMm) as [Vec3, Vec3],
  diameter_mm: rounded(diameterMm, 2),
  length_mm: rounded(distance(...ends), 2),
});

/** Biases listed in the table of readings needed, mm, in addition to the tolerance. */
const BIASES_MM = [0.05, 0.1, 0.2, 0.3];

/** How many readings of diameters detect a bias, for planning before measuring. */
function readingsPlan(
  rules: PrintRules,
  gauges: readonly Gauge[],
): NonNullable<NonNullable<Result['print']>['readings_needed']> {
  const diameters = gauges.filter((g) => g.kind === 'diameter');
  const sigmaMm = rules.caliperSigmaMm;
  const needed = (biasMm: number) => ({ bias_mm: biasMm, readings: readingsNeeded(biasMm, sigmaMm) });
  const toleranceMm = diameters.length > 0 ? Math.min(...diameters.map((g) => g.toleranceMm)) : undefined;
  const all = [...new Set([...BIASES_MM, ...(toleranceMm === undefined ? [] : [toleranceMm])])];
  const least =
    toleranceMm === undefined
      ? undefined
      : Math.max(rules.leastReadings, readingsNeeded(toleranceMm, sigmaMm));
  return {
    reading_sd_mm: sigmaMm,
    diameters: diameters.length,
    ...(toleranceMm !== undefined && { tolerance_mm: toleranceMm }),
    ...(least !== undefined && { least, each: Math.ceil(least / diameters.length) }),
    to_tell: all.toSorted((a, b) => a - b).map(needed),
  };
}

/** File names of the parts inside the print folder: letters, digits, underscore and dash, unique even when case is ignored. */
export function fileNames(parts: readonly { name: string }[]): string[] {
  const plain = (text: string): string =>
    text
      .normalize('NFKD')
      .replace(/[^A-Za-z0-9_-]+/g, '-')
      .replace(/^-+|-+$/g, '')
      .slice(0, 60) || 'part';
  const taken = new Set<string>();
  return parts.map((part) => {
    let stem = plain(part.name);
    for (let n = 2; taken.has(stem.toLowerCase()); n++) stem = `${plain(part.name)}-${n}`;
    taken.add(stem.toLowerCase());
    return `${stem}.stl`;
  });
}
