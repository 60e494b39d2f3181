import type { Surfaces, VesselEnd } from '../case/case.js';
import type { Finding } from '../foundation/finding.js';
import { inStage } from '../foundation/stage.js';
import { scale, type Vec3 } from '../foundation/vector.js';
import type { BoundaryLoop } from '../mesh/boundary-loops.js';
import { type ClosedSurface, closeEnds, wallHole } from '../mesh/close-ends.js';
import type { LoadedSurface } from '../mesh/load-surface.js';
import { LEAST_END_MM, openingsBySize } from '../mesh/openings.js';
import { largestPiece } from '../mesh/pieces.js';
import { lumenOf } from '../mesh/wall.js';
import type { ScanFrame } from './describe-vessel.js';
import type { LesionMeasure, MeasureDefinitions } from './measure.js';
import { measureWhole } from './measure-whole.js';
import type { Structure } from './structure.js';
import type { Surface } from './surface.js';
import { addSurroundings } from './surroundings.js';
import { letterOf } from './whole/ends-of.js';
import { LARGEST_SNAP_MM } from './whole/place-ends.js';

/** One surface of the whole lesion with its data from the case. Points are in the unit of the mesh, as written. */
export interface WholeGiven {
  surface: LoadedSurface;
  /** The file name shown in messages. */
  shown: string;
  ends: readonly VesselEnd[];
  sac?: Vec3;
  /** Its position in the case file. */
  path: string;
}

type WholeOptions = Pick<Surfaces, 'unitMm' | 'frame' | 'mendMm' | 'dropBelowMm3'>;

/** The surface of a whole lesion, ready to be measured. */
export interface PreparedWhole {
  lumen: LoadedSurface;
  /** The lumen with its ends closed. Absent if lumen and wall cannot be told apart; nothing is then measured. */
  closed?: ClosedSurface;
  /** The outside of its wall, if it has one. */
  outside?: Pick<ClosedSurface, 'mesh' | 'twin'>;
}

/** Takes the lumen of the lesion's own piece and closes its ends. */
export function prepareWhole(
  { surface, shown, ends, sac }: WholeGiven,
  { unitMm, mendMm, dropBelowMm3 }: WholeOptions,
): PreparedWhole {
  const points = [...ends.map(({ at }) => at), ...(sac ? [sac] : [])].map((p) => scale(p, unitMm));
  const single = largestPiece(surface, {
    label: 'whole',
    dropBelowMm3,
    // another tree next to the lesion's is not part of it; whether a named point is in it is checked with the point
    stopShare: Number.POSITIVE_INFINITY,
    alsoKeep: ({ low, high }) =>
      points.some((p) => p.every((x, k) => x >= low[k] - LARGEST_SNAP_MM && x <= high[k] + LARGEST_SNAP_MM)),
  });
  const { lumen, outside, isUnclear } = lumenOf(single.surface, 'whole');
  if (isUnclear) return { lumen };
  const notAnEnd = (loop: BoundaryLoop): string | undefined => wallHole(loop, LEAST_END_MM * 2);
  const close = (open: LoadedSurface): ClosedSurface =>
    closeEnds(open, { label: 'whole', shown, notAnEnd, mendMm });
  return { lumen, closed: close(lumen), ...(outside && { outside: close(outside) }) };
}

/** Measures a prepared surface. `locate` gives the position of a path in the case file, for messages. */
export function measurePreparedWhole(
  { lumen, closed, outside }: PreparedWhole,
  { ends, sac, path }: WholeGiven,
  {
    definitions,
    scan,
    locate,
    ...options
  }: WholeOptions & { definitions: MeasureDefinitions; scan: ScanFrame; locate(path: string): string },
): { lesion: LesionMeasure; structures: Structure[]; findings: Finding[] } {
  if (!closed) {
    const { mesh, topology, findings } = lumen;
    const structures: Structure[] = [{ name: 'lesion', role: 'whole', mesh, twin: topology.twin }];
    return { lesion: { vessels: [], neighbours: [] }, structures, findings };
  }
  const labelled = (point: Vec3, at: string) => ({
    point: scale(point, options.unitMm),
    where: `${locate(at)} ${at}`,
  });
  const measured = measureWhole(
    {
      mesh: closed.mesh,
      twin: closed.twin,
      capTriangles: closed.capTriangles,
      ends: ends.map(({ name, role, of, at, path: end }) => ({
        name,
        role,
        of,
        ...labelled(at, `${end}.at`),
      })),
      sac: sac && labelled(sac, `${path}.sac`),
      offeredEnds: openingsBySize(lumen.mesh, lumen.topology).map(({ loop }, i) => ({
        letter: letterOf(i),
        centre: loop.centroid,
        calibreMm: loop.equivalentDiameterMm,
      })),
    },
    definitions,
    scan,
  );
  const { lesion, surface, bounded, sacBody } = measured;
  lesion.mended = lumen.mended.map((crack) => ({ structure: 'whole', ...crack }));
  const vessels = new Map(lesion.vessels.map(({ name }): [string, Surface] => [name, surface]));
  inStage('distances', () => addSurroundings(lesion, { vessels }, [], definitions, options.frame));
  const { mesh, twin } = outside ?? closed;
  const structures: Structure[] = [
    { name: 'lesion', role: 'whole', ...(bounded ? { mesh: bounded.mesh } : { mesh, twin }) },
  ];
  if (sacBody) structures.push({ name: 'sac', role: 'sac', mesh: surface.toFileMesh(sacBody) });
  if (bounded && bounded.leftOut.pieces > 0)
    structures.push({ name: 'left out', role: 'left-out', mesh: bounded.leftOut.mesh });
  return { lesion, structures, findings: [...closed.findings, ...measured.findings] };
}
