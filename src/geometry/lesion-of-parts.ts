import type { PartRole, Surfaces } from '../case/case.js';
import { isVesselRole } from '../case/vocabulary.js';
import type { Finding } from '../foundation/finding.js';
import { inStage } from '../foundation/stage.js';
import { type ClosedSurface, closeEnds, noVesselNear, wallHole } from '../mesh/close-ends.js';
import type { LoadedSurface } from '../mesh/load-surface.js';
import type { TriangleMesh } from '../mesh/mesh.js';
import { largestPiece, withoutSmallPieces } from '../mesh/pieces.js';
import { lumenOf } from '../mesh/wall.js';
import type { ScanFrame } from './describe-vessel.js';
import type { LoadedPart } from './loaded-part.js';
import type { LesionMeasure, MeasureDefinitions } from './measure.js';
import { measureParts, type PartSurface } from './measure-parts.js';
import type { Structure } from './structure.js';
import type { Surface } from './surface.js';
import { addSurroundings, type NamedSurface } from './surroundings.js';

/** The structures of a case, ready to be measured. */
export interface PreparedParts {
  /** One piece and one lumen of each vessel and the sac, as read. */
  lumens: readonly LoadedPart[];
  /** The same with their ends closed, for measuring. */
  surfaces: readonly PartSurface[];
  /** Surfaces to draw and print: the outside of a structure that has a wall. */
  structures: readonly Structure[];
  /** Structures that are not measured because a large share of them is in another piece, or because lumen and wall cannot be told apart. */
  withoutNumbers: ReadonlySet<string>;
  findings: Finding[];
}

/** Structures that are measured: vessels and sac. The others are only neighbours. */
const isMeasured = (role: PartRole): boolean => isVesselRole(role) || role === 'sac';

/** Structures at risk from a resection or a device, and the branches to spare. */
const isAtRisk = ({ role, spare }: PartSurface): boolean =>
  role === 'airway' ||
  role === 'heart' ||
  role === 'chest-wall' ||
  role === 'lobe' ||
  (role === 'branch' && spare);

/** Takes one lumen of each structure and closes its ends. */
export function prepareParts(
  given: readonly LoadedPart[],
  { dropBelowMm3, mendMm }: Pick<Surfaces, 'dropBelowMm3' | 'mendMm'>,
  stopShare: number,
): PreparedParts {
  const withoutNumbers = new Set<string>();
  const outsides = new Map<string, LoadedSurface>();
  const lumens = given.map((one): LoadedPart => {
    const { name, role } = one.part;
    if (!isMeasured(role))
      return dropBelowMm3 === undefined
        ? one
        : { ...one, surface: withoutSmallPieces(one.surface, name, dropBelowMm3) };
    const single = largestPiece(one.surface, { label: name, dropBelowMm3, stopShare });
    const { lumen, outside, isUnclear } = lumenOf(single.surface, name);
    if (single.isBroken || isUnclear) withoutNumbers.add(name);
    if (outside) outsides.set(name, outside);
    return { ...one, surface: lumen };
  });
  const vessels = lumens.filter(({ part }) => isVesselRole(part.role)).map(({ surface }) => surface.mesh);
  const close = ({ part, shown }: LoadedPart, surface: LoadedSurface): ClosedSurface =>
    closeEnds(surface, { label: part.name, shown, notAnEnd: notAnEndOf(part.role, vessels), mendMm });

  const findings: Finding[] = [];
  const surfaces: PartSurface[] = [];
  const structures: Structure[] = [];
  for (const one of lumens) {
    const { part, surface } = one;
    const closed = isMeasured(part.role) ? close(one, surface) : asItIs(surface);
    findings.push(...closed.findings);
    const { name, role, of, spare } = part;
    const { mesh, twin, capTriangles } = closed;
    surfaces.push({ name, role, of, spare, mesh, twin, capTriangles });
    const outside = outsides.get(name);
    const drawn = outside ? close(one, outside) : closed;
    structures.push({ name, role, of, spare, mesh: drawn.mesh, twin: drawn.twin });
  }
  return { lumens, surfaces, structures, withoutNumbers, findings };
}

const notAnEndOf = (role: PartRole, vessels: readonly TriangleMesh[]) =>
  role === 'sac' ? noVesselNear(vessels) : wallHole;

/** A structure that is not measured may stay open. */
const asItIs = ({ mesh, topology, findings }: LoadedSurface): ClosedSurface => ({
  mesh,
  twin: topology.twin,
  capTriangles: [],
  findings: findings.map((f) => (f.id === 'open-surface' ? { ...f, level: 'note' } : f)),
});

/** Measures prepared structures and their distances to structures at risk. */
export function measurePrepared(
  { lumens, surfaces, withoutNumbers }: PreparedParts,
  definitions: MeasureDefinitions,
  scan: ScanFrame,
  frame: Surfaces['frame'],
): { lesion: LesionMeasure; findings: Finding[] } {
  const measured = measureParts(surfaces, definitions, scan);
  const { lesion } = measured;
  const sac = surfaces.find(({ role }) => role === 'sac');
  lesion.vessels = lesion.vessels.filter(({ name }) => !withoutNumbers.has(name));
  if (sac && withoutNumbers.has(sac.name)) delete lesion.sac;
  lesion.mended = lumens.flatMap(({ part, surface }) =>
    surface.mended.map((crack) => ({ structure: part.name, ...crack })),
  );
  const surfaceOf = ({ name }: PartSurface): Surface => measured.surfaces.get(name)!;
  const named = (part: PartSurface): NamedSurface => ({ name: part.name, surface: surfaceOf(part) });
  const vessels = surfaces.filter(({ role }) => isVesselRole(role));
  inStage('distances', () =>
    addSurroundings(
      lesion,
      { sac: sac && surfaceOf(sac), vessels: new Map(vessels.map((part) => [part.name, surfaceOf(part)])) },
      surfaces.filter(isAtRisk).map(named),
      definitions,
      frame,
    ),
  );
  return { lesion, findings: measured.findings };
}
