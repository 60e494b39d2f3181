import { dirname, join } from 'node:path';
import type { Case, FromScan } from '../../case/case.js';
import { EXIT, InputFailure } from '../../foundation/failure.js';
import type { Finding } from '../../foundation/finding.js';
import type { Vec3 } from '../../foundation/vector.js';
import { type LoadedSurface, prepareSurface } from '../../mesh/load-surface.js';
import type { TriangleMesh } from '../../mesh/mesh.js';
import { readBinaryStl } from '../../mesh/read/stl-binary.js';
import { eachPoint } from '../../mesh/transform.js';
import { writeStl } from '../../mesh/write-stl.js';
import { proposalResult } from '../../plan/proposal-result.js';
import { type Proposal, proposeSurface } from '../../proposal/proposal.js';
import type { Result } from '../../result/result.generated.js';
import type { Rules } from '../../rules/rule.js';
import type { GreyVolume } from '../../volume/ct/grey-volume.js';
import { wrongPoints, type ScanPoint, scanPoints, scanTurn } from './scan-points.js';
import { sha256Hex } from '../output/output-list.js';

/** Called with the completed share of a long computation, 0 to 1, and the next stage. */
export type OnProgress = (share: number, what: string) => void;

/** A surface made from the scan, in the axes of the case. */
export interface ProposedSurface {
  /** As read back from `stl`, so that the written surface is the one measured. */
  surface: LoadedSurface;
  /** Bytes of `surfaces/lesion.stl`, mm. */
  stl: Uint8Array;
  labels: Proposal['labels'];
  thrombus?: TriangleMesh;
  result: NonNullable<Result['proposal']>;
  findings: Finding[];
}

/** Name of the surface in the output folder. */
export const LESION_FILE = 'surfaces/lesion.stl';

/**
 * Makes the surface of a case from its points. Throws InputFailure for points that cannot be used, each with its place in the case file
 * and the grey value found there.
 */
export function proposedSurface(
  patientCase: Case,
  fromScan: FromScan,
  {
    typed,
    volume,
    rules,
    onProgress,
  }: { typed: string; volume: GreyVolume; rules: Rules; onProgress?: OnProgress },
): ProposedSurface {
  const { frame } = patientCase.surfaces!;
  const turn = scanTurn({ frame });
  const turned = (mesh: TriangleMesh): TriangleMesh => ({
    ...mesh,
    positions: eachPoint(mesh.positions, turn),
  });
  const points = scanPoints(patientCase.surfaces!);
  const placeOf = (path: string): string => `${join(dirname(typed), patientCase.locate(path))} ${path}`;
  const outside = wrongPoints(points, volume.stack);
  if (outside.length > 0)
    throw new InputFailure(
      EXIT.usage,
      outside.map(({ path, text }) => `${placeOf(path)}: ${text}`),
    );
  const proposal = proposed(fromScan, points, { volume, rules, placeOf, onProgress });
  const stl = writeStl(turned(proposal.mesh), `lesion from the scan, ${frame}`);
  const mesh = readBinaryStl(stl, LESION_FILE);
  const surface = prepareSurface(
    { format: 'stl-binary', objects: [{ name: 'lesion', mesh }], unitMm: 1, notes: [] },
    { label: 'whole', shown: LESION_FILE, checkSelfIntersection: false },
  );
  const { labels, thrombus } = proposal;
  return {
    surface,
    stl,
    labels: {
      ...labels,
      originMm: turn(labels.originMm),
      directions: labels.directions.map(turn) as [Vec3, Vec3, Vec3],
    },
    ...(thrombus && { thrombus: turned(thrombus.mesh) }),
    ...proposalResult(proposal, fromScan, sha256Hex(stl), turn, rules),
  };
}

function proposed(
  { ends, path }: FromScan,
  points: readonly ScanPoint[],
  scan: { volume: GreyVolume; rules: Rules; placeOf: (path: string) => string; onProgress?: OnProgress },
): Proposal {
  const { volume, rules, placeOf, onProgress } = scan;
  try {
    const input = {
      volume,
      ends: ends.map(({ name, role, of }, i) => ({
        name,
        role: role === 'systemic-feeder' ? 'feeder' : role,
        ...(role === 'branch' && { of }),
        at: points[i].at,
      })),
      sac: points[ends.length].at,
      onProgress,
    };
    return proposeSurface(input, rules);
  } catch (error) {
    if (!(error instanceof InputFailure)) throw error;
    // each line begins with the name of its point
    const lines = error.problems.map((line) => {
      const point = points.find(({ name }) => line.startsWith(`${name}: `));
      return point
        ? `${placeOf(point.path)}: ${line.slice(point.name.length + 2)}`
        : `${placeOf(path)}: ${line}`;
    });
    throw new InputFailure(error.exitCode, lines);
  }
}
