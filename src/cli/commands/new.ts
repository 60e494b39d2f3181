import { lstat, readdir, stat } from 'node:fs/promises';
import { basename, join, resolve } from 'node:path';
import {
  type DraftInput,
  type DraftScan,
  draftCase,
  idFrom,
  type ProposedEnd,
} from '../../case/draft-case.js';
import { DRAFT_SHELF } from '../../case/draft-text.js';
import { guessRole } from '../../case/guess-role.js';
import { isMeshName } from '../../case/input-header.js';
import { parseCase } from '../../case/parse-case.js';
import { shownPath } from '../../case/case-files.js';
import { EXIT, InputFailure } from '../../foundation/failure.js';
import { rounded } from '../../foundation/number-text.js';
import { hasInvisible } from '../../foundation/quoted-text.js';
import { openRegularFile } from '../../foundation/regular-file.js';
import { scale, type Vec3 } from '../../foundation/vector.js';
import { likelyUnits } from '../../mesh/load-surface.js';
import { boundingBox } from '../../mesh/measures.js';
import { openingsBySize } from '../../mesh/openings.js';
import { isDicom } from '../../mesh/recognise/dicom-facts.js';
import { caseUnit, unitDigits } from '../input/mesh-unit.js';
import { writeBeside } from '../output/write-beside.js';
import { type SacFlags, sacFlag } from '../input/sac-flag.js';
import type { Terminal } from '../terminal/terminal.js';

export interface NewOptions extends SacFlags {
  /** Replace an existing case file. */
  force?: boolean;
  /** Write a patient file from the case folders in this folder. */
  patient?: boolean;
  quiet?: boolean;
}

/** Limits of the search: depth of folders and number of meshes. */
const DEEPEST = 8;
const MOST_MESHES = 200;
/** Folders that hold outputs of this program, not inputs. */
const OUTPUT_FOLDERS = new Set(['plan', 'print', 'figures', 'node_modules']);

/**
 * `pavm new DIR`: writes DIR/case.yaml, a commented case file, from the meshes in DIR and below, or from the one CT series there, and an
 * empty shelf.yaml if there is none. Never overwrites without `force`. If there is one mesh of the whole lesion, its vessel ends are
 * proposed, unless `proposedEnds` gives them. Throws InputFailure (2) if there is neither, or if a case file already exists.
 */
export async function run(
  args: string[],
  options: NewOptions,
  terminal: Terminal,
  proposedEnds: readonly ProposedEnd[] = [],
): Promise<number> {
  if (args.length !== 1)
    throw new InputFailure(
      EXIT.usage,
      'new: name one folder that holds the meshes, for example: pavm new my-case',
    );
  if (options.patient) {
    const { newPatient } = await import('../patient/new-patient.js');
    return newPatient(args[0], options, terminal);
  }
  const place = sacFlag(options);
  const folder = args[0];
  const shown = shownPath(folder);
  const facts = await stat(folder).catch(() => undefined);
  if (!facts?.isDirectory()) {
    throw new InputFailure(
      EXIT.usage,
      `${shown}: there is no such folder. Make it and put the meshes (.stl .obj .ply .glb .gltf .3mf) into it.`,
    );
  }
  const target = join(folder, 'case.yaml');
  if (!options.force && (await stat(target).catch(() => undefined))) {
    throw new InputFailure(
      EXIT.usage,
      `${shownPath(target)}: there is a case file already. It is left as it is; --force replaces it.`,
    );
  }
  const { meshes, skipped, series } = await meshesBelow(folder);
  const scan = await scanOf(folder, series, (line) => skipped.push(line));
  if (meshes.length === 0 && !scan) {
    throw new InputFailure(EXIT.usage, [
      ...skipped,
      `${shown}: no mesh here. Put the segmented surfaces (.stl .obj .ply .glb .gltf .3mf) into this folder, one file per structure or one for the whole lesion, or one contrast CT series (DICOM), from which the surface can be made.`,
    ]);
  }
  const { ends, unit } =
    proposedEnds.length > 0
      ? { ends: proposedEnds, unit: undefined }
      : await endsOfWhole(folder, meshes, place, (line) => skipped.push(line));
  const text = draftCase({
    id: idFrom(basename(resolve(folder))),
    meshes,
    proposedEnds: ends,
    unit,
    scan,
    sac: place?.at,
  });
  await parseCase(text, 'case.yaml');
  const kept = await writeBeside(target, text, options.force === true);
  const shelf = join(folder, 'shelf.yaml');
  const isNewShelf = (await lstat(shelf).catch(() => undefined)) === undefined;
  if (isNewShelf) await writeBeside(shelf, DRAFT_SHELF, false);
  for (const line of skipped) terminal.err(`${line}\n`);
  if (!options.quiet && !terminal.quiet) {
    if (kept !== undefined) terminal.err(`The earlier case file is kept as ${shownPath(kept)}.\n`);
    terminal.err(
      `wrote ${shownPath(target)} with ${inputsOf(meshes)}${isNewShelf ? ', and shelf.yaml, which lists no device yet' : ''}. Go through the lines marked CHECK, then: pavm check ${shown}\n`,
    );
  }
  return EXIT.done;
}

function inputsOf(meshes: readonly string[]): string {
  if (meshes.length === 0) return 'one CT series, to make the surface from';
  return meshes.length === 1 ? '1 mesh' : `${meshes.length} meshes`;
}

/** Vessel ends of the single mesh of the whole lesion; empty if there are several meshes or it cannot be used yet. */
async function endsOfWhole(
  folder: string,
  meshes: readonly string[],
  place: { at: Vec3; reachMm: number } | undefined,
  say: (line: string) => void,
): Promise<Pick<DraftInput, 'unit'> & { ends: readonly ProposedEnd[] }> {
  if (meshes.length !== 1 || guessRole(meshes[0]) !== undefined) return { ends: [] };
  const { prepareSurface } = await import('../../mesh/load-surface.js');
  const { readMeshFile } = await import('../../mesh/read/read-mesh-file.js');
  const { vesselEnds } = await import('../input/vessel-ends.js');
  try {
    const shown = shownPath(meshes[0]);
    const file = await readMeshFile(join(folder, meshes[0]), { shown });
    const unitMm = file.unitMm ?? 1;
    const options = { unitMm, label: 'whole', shown, checkSelfIntersection: false };
    const { mesh, topology } = prepareSurface(file, options);
    const { size } = boundingBox(mesh);
    if (likelyUnits(Math.max(...size), unitMm)) return { ends: [] };
    const loops = openingsBySize(mesh, topology).map(({ loop }) => loop);
    const about = place && { at: scale(place.at, unitMm), reachMm: place.reachMm };
    const found = vesselEnds(mesh, loops, about);
    const ends = (found?.ends ?? []).map(({ letter, at, calibreMm }) => ({
      letter,
      at: scale(at, 1 / unitMm),
      calibreMm,
    }));
    const name = caseUnit(unitMm);
    return { ends, ...(name && { unit: { name, digits: unitDigits(unitMm) } }) };
  } catch (error) {
    if (!(error instanceof InputFailure) || error.exitCode === EXIT.usage) throw error;
    say(`${error.problems[0]} Until then the vessel ends in the case file are placeholders.`);
    return { ends: [] };
  }
}

/** The header of the single CT series; undefined if there is none or it cannot be used yet. */
async function scanOf(
  folder: string,
  series: readonly string[],
  say: (line: string) => void,
): Promise<DraftScan | undefined> {
  if (series.length === 0) return undefined;
  if (series.length > 1) {
    say(
      `${series.length} folders contain DICOM files: ${series.slice(0, 5).map(shownPath).join(', ')}. Name the one of the CT in scan.series.`,
    );
    return undefined;
  }
  const [path] = series;
  const shown = shownPath(path);
  const [{ openScan, scanLine }, { rulesInForce }] = await Promise.all([
    import('../scan/open-scan.js'),
    import('../../rules/rules-in-force.js'),
  ]);
  const { problems, facts, stackFacts, inPlaneMm } = await openScan(
    join(folder, path),
    shown,
    await rulesInForce(),
  );
  if (problems.length > 0 || !stackFacts || !inPlaneMm) {
    for (const text of problems) say(`${scanLine(shown, text)} The scan in the case file is left open.`);
    return undefined;
  }
  const thickness = [stackFacts.thicknessMm ?? []].flat();
  return {
    series: path,
    ...(facts?.date !== undefined && { date: facts.date }),
    ...(thickness.length > 0 && { sliceThicknessMm: rounded(Math.max(...thickness), 4) }),
    inPlaneMm: rounded(Math.max(...inPlaneMm), 4),
  };
}

/** Number of files of a folder that are tested for DICOM. */
const MOST_TRIED = 20;

async function holdsDicom(folder: string, names: readonly string[]): Promise<boolean> {
  for (const name of names.slice(0, MOST_TRIED)) {
    const { handle } = await openRegularFile(join(folder, name), {
      shown: shownPath(folder),
      exitCode: EXIT.usage,
    });
    try {
      const start = Buffer.alloc(132);
      await handle.read(start, 0, 132, 0);
      if (isDicom(start)) return true;
    } finally {
      await handle.close();
    }
  }
  return false;
}

/** Meshes and folders of DICOM files below a folder, sorted by path, ignoring symbolic links; and messages on what was skipped. */
async function meshesBelow(
  folder: string,
): Promise<{ meshes: string[]; skipped: string[]; series: string[] }> {
  const meshes: string[] = [];
  const series: string[] = [];
  const skipped: string[] = [];
  const visit = async (below: string, depth: number): Promise<void> => {
    const entries = await readdir(join(folder, below), { withFileTypes: true });
    entries.sort((a, b) => (a.name < b.name ? -1 : a.name > b.name ? 1 : 0));
    for (const entry of entries) {
      const path = below === '' ? entry.name : `${below}/${entry.name}`;
      if (entry.isDirectory()) {
        if (depth < DEEPEST && !entry.name.startsWith('.') && !OUTPUT_FOLDERS.has(entry.name))
          await visit(path, depth + 1);
      } else if (entry.isFile() && isMeshName(entry.name)) {
        const unusable =
          hasInvisible(path) || path.includes('\\') || path.includes(':') || path.length > 1000;
        if (unusable)
          skipped.push(`${shownPath(path)}: skipped, its name is not allowed in a case file. Rename it.`);
        else meshes.push(path);
      }
    }
    const others = entries
      .filter((entry) => entry.isFile() && !isMeshName(entry.name))
      .map(({ name }) => name);
    if (await holdsDicom(join(folder, below), others)) series.push(below === '' ? '.' : below);
  };
  await visit('', 0);
  meshes.sort();
  if (meshes.length > MOST_MESHES) {
    throw new InputFailure(
      EXIT.usage,
      `${shownPath(folder)}: ${meshes.length} meshes here; a case has at most ${MOST_MESHES}. Keep those of one patient in one folder.`,
    );
  }
  series.sort();
  return { meshes, skipped, series };
}
