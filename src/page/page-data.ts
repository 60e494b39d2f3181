import { rounded } from '../foundation/number-text.js';
import type { Vec3 } from '../foundation/vector.js';
import type { TriangleMesh } from '../mesh/mesh.js';
import { eachPoint } from '../mesh/transform.js';
import {
  type CaseSurface,
  type LesionPiece,
  lesionPieces,
  shownSurfaces,
} from '../report/figures/lesion-pieces.js';
import { plainLine } from '../report/plain-line.js';
import { deviceKind, entryOf, orderedVessels, ROLE_WORDS, trimmed } from '../report/words.js';
import { drawnLengthMm } from '../result/drawn-length.js';
import type { Device, Result, Vessel } from '../result/result.generated.js';
import { displayErrorMm } from './display-error.js';
import type { Blood, Ghost, PageData, ReadVessel, ShownStructure, Triple } from './page-types.js';
import { quantised } from './quantise.js';
import { lookOf } from './roles.js';
import { thinned } from './simplify.js';

/** Patient axes of the coordinates; `unknown`: the page names the axes of the file. */
export type PageFrame = 'LPS' | 'RAS' | 'unknown';

/** The picture's part of the page data, with its triangle counts. */
export interface PictureData extends Omit<PageData, 'plans'> {
  triangles: { measured: number; shown: number };
}

/** Everything the viewer draws: simplified, quantised surfaces in LPS, centrelines with calibres, landing zones, devices. */
export async function pictureData(
  result: Result,
  structures: readonly CaseSurface[],
  frame: PageFrame,
): Promise<PictureData> {
  const turn = (point: Vec3): Vec3 => (frame === 'RAS' ? [-point[0], -point[1], point[2]] : point);
  const usable = shownSurfaces(result, structures);
  const thin = await thinned(usable.map(({ mesh, role }) => ({ mesh, coarse: lookOf(role).around })));
  const pieces = lesionPieces(
    result,
    usable.map((surface, i) => ({ ...surface, mesh: thin[i] })),
  );
  let displayError = 0;
  for (const [i, { mesh }] of usable.entries())
    if (thin[i] !== mesh) displayError = Math.max(displayError, displayErrorMm(mesh, thin[i]));
  const shown = pieces.map((piece, i) => shownStructure(piece, i, turn, result));
  const step = Math.max(0, ...shown.map((one) => one.stepMm));
  return {
    patientAxes: frame !== 'unknown',
    side: result.lesion.side,
    structures: shown,
    vessels: readVessels(result, shown, turn),
    sac: result.sac && { volumeMl: result.sac.volume_ml, longestMm: result.sac.longest_mm },
    // Quantisation adds up to half the diagonal of a grid cell to the error of simplification.
    displayErrorMm: displayError + (step * Math.sqrt(3)) / 2,
    triangles: {
      measured: usable.reduce((sum, { mesh }) => sum + mesh.triangles.length / 3, 0),
      shown: pieces.reduce((sum, { mesh }) => sum + mesh.triangles.length / 3, 0),
    },
  };
}

/** A branch carries the blood of the vessel that it belongs to. */
function bloodOf(role: string, of: string | undefined, result: Result): Blood {
  const parent = role === 'branch' && of !== undefined ? entryOf(result.vessels, of) : undefined;
  return lookOf(parent?.role ?? role).blood;
}

function shownStructure(
  piece: LesionPiece,
  index: number,
  turn: (point: Vec3) => Vec3,
  result: Result,
): ShownStructure {
  const look = lookOf(piece.role);
  return {
    id: `s${index}`,
    name: plainLine(piece.name),
    role: piece.role,
    roleText: look.text,
    blood: bloodOf(piece.role, piece.of, result),
    colour: look.colour,
    spare: piece.spare,
    supplies: piece.supplies === undefined ? undefined : plainLine(piece.supplies),
    solid: look.solid,
    ...quantised(turned(piece.mesh, turn)),
  };
}

const turned = ({ positions, triangles }: TriangleMesh, turn: (point: Vec3) => Vec3): TriangleMesh => ({
  positions: eachPoint(positions, turn),
  triangles,
});

function readVessels(
  result: Result,
  shown: readonly ShownStructure[],
  turn: (point: Vec3) => Vec3,
): ReadVessel[] {
  const at = (point: readonly number[]): Triple =>
    turn([point[0], point[1], point[2]]).map((x) => rounded(x, 3)) as Triple;
  return orderedVessels(result).flatMap(([name, vessel]) => {
    const structure = shown.find((one) => one.name === plainLine(name));
    if (!structure || !vessel.centreline_mm || vessel.centreline_mm.length < 2) return [];
    const { landing } = vessel;
    return {
      id: structure.id,
      name: structure.name,
      roleText: ROLE_WORDS[vessel.role],
      blood: structure.blood,
      lengthMm: drawnLengthMm(vessel),
      centreline: vessel.centreline_mm.map(at),
      profile: profileOf(vessel),
      neckAtMm: vessel.neck?.at_mm,
      neckPoint: vessel.neck && at(vessel.neck.point_mm),
      landing: landing && {
        fromMm: landing.from_mm,
        toMm: landing.to_mm,
        calibreMm: landing.calibre_mm,
        centre: landing.centre_mm && at(landing.centre_mm),
      },
      view: landing?.view && {
        laoDeg: landing.view.lao_rao_deg,
        cranialDeg: landing.view.cran_caud_deg,
      },
      device: ghostOf(entryOf(result.devices, name)),
      spare: structure.spare,
      supplies: structure.supplies,
    };
  });
}

const profileOf = (vessel: Vessel): ReadVessel['profile'] =>
  vessel.profile.map((sample) => [
    rounded(sample.at_mm, 2),
    rounded(sample.equivalent_mm, 2),
    rounded(sample.min_mm, 2),
    rounded(sample.max_mm, 2),
    sample.at_opening ? 1 : 0,
  ]);

/** The device at its unconstrained size; undefined without a kind and a diameter. */
function ghostOf(device: Device | undefined): Ghost | undefined {
  if (device?.kind === undefined || device.diameter_mm === undefined) return undefined;
  const count = (device.count ?? 1) > 1 ? `${device.count} × ` : '';
  return {
    text: `${count}${deviceKind(device.kind)} ${trimmed(device.diameter_mm)} mm`,
    form: device.kind === 'vascular-plug' || device.kind === 'micro-plug' ? 'plug' : 'coil',
    diameterMm: device.diameter_mm,
    lengthMm: device.length_mm,
  };
}
