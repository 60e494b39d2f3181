import type { PartRole } from './case.js';
import { DRAFT_HEAD, DRAFT_SCAN, DRAFT_TAIL } from './draft-text.js';
import { guessRole, structureNames } from './guess-role.js';

/** An open end of a surface that may be the far end of a vessel; found by the caller, who has read the mesh. */
export interface ProposedEnd {
  letter: string;
  /** Point inside the end, in the unit of the mesh. */
  at: readonly [number, number, number];
  /** Equivalent calibre of the opening, mm, if the mesh unit is mm. */
  calibreMm: number;
}

export interface DraftInput {
  /** Case id, `[a-z0-9-]+`. */
  id: string;
  /** Paths of the meshes relative to the case file, with forward slashes; none if the surface is to be made from `scan`. */
  meshes: readonly string[];
  /** Open ends of the single mesh, if they are known. */
  proposedEnds?: readonly ProposedEnd[];
  /** The unit that the single mesh states, and the decimals that give its coordinates to 0.01 mm; default: mm. */
  unit?: { name: 'mm' | 'cm' | 'm' | 'inch'; digits: number };
  /** The CT series next to the meshes, with the facts from its header. */
  scan?: DraftScan;
  /** A point inside the sac, in the unit of the mesh (of a series: mm, LPS). */
  sac?: readonly [number, number, number];
}

export interface DraftScan {
  /** Path relative to the case file, with forward slashes. */
  series: string;
  date?: string;
  sliceThicknessMm?: number;
  inPlaneMm?: number;
}

/** A case id from the name of a folder: small letters, digits and hyphens. */
export function idFrom(folderName: string): string {
  const id = folderName
    .normalize('NFKD')
    .toLowerCase()
    .replace(/[^a-z0-9]+/g, '-')
    .replace(/^-+|-+$/g, '')
    .slice(0, 64)
    .replace(/-+$/, '');
  return id === '' ? 'case-1' : id;
}

/**
 * Text of a commented case file for these meshes: every optional key is included as a comment with its unit and meaning. Roles guessed from
 * file names are marked as guesses. One mesh without a role in its name becomes the `whole` form, a series without a mesh the `from_scan`
 * form. Throws RangeError if there is neither. The text passes `parseCase` as it is. Same input, same text.
 */
export function draftCase({
  id,
  meshes,
  proposedEnds = [],
  unit = { name: 'mm', digits: 2 },
  scan,
  sac,
}: DraftInput): string {
  if (meshes.length === 0 && !scan) throw new RangeError('a draft needs a mesh or a series');
  const isWhole = meshes.length === 1 && guessRole(meshes[0]) === undefined;
  const surfaces = isWhole ? wholeLines(meshes[0], proposedEnds, unit.digits, sac) : partLines(meshes);
  return [
    ...DRAFT_HEAD.replace('{id}', id)
      .replace('{scan}', () => scanBlock(scan))
      .split('\n'),
    'surfaces:',
    ...(meshes.length === 0 ? fromScanLines(sac) : [...fileLines(unit.name), ...surfaces]),
    ...DRAFT_TAIL.split('\n'),
  ].join('\n');
}

function fileLines(unit: string): string[] {
  return [
    `  ${`unit: ${unit}`.padEnd(23)}# CHECK: mm | cm | m | inch, the unit of the mesh coordinates; mesh files seldom say it`,
    '  frame: unknown         # LPS | RAS | unknown, the patient axes of the coordinates; DICOM is LPS',
    '  # mend: 0.3 mm         # cracks up to this width are closed, each reported',
    '  # drop_below: 10 mm3   # loose pieces below this volume are left out, and counted',
    '  # from_scan:           # in place of parts or whole: the surface is made from scan.series; a point inside each far end',
    '  #   ends: [ { name: A1, role: feeder, at: [0, 0, 0] }, { name: V1, role: drain, at: [0, 0, 0] } ]',
    '  #   sac: [0, 0, 0]',
    '  #   confirmed_by: NAME # who checked the surface against the slices',
    '  #   confirmed_surface: SHA256 # of the surface that was checked, as surfaces/report.md gives it',
  ];
}

/** The points differ, so that the file can be read; none is a real position. */
function fromScanLines(sac: DraftInput['sac']): string[] {
  return [
    '  frame: LPS             # LPS | RAS, the patient axes of the points below; DICOM is LPS',
    '  # The surface is made from scan.series: one point (mm) inside the far end of each vessel, and one inside the sac.',
    '  # Roles: feeder | drain | branch | systemic-feeder. More keys: of: A1, spare: yes, supplies: S8, arises_from: "...".',
    '  # "pavm inspect FOLDER --sac=X,Y,Z --out places.svg" lists the vessels that join the sac, with both ends, and draws them.',
    '  from_scan:',
    '    ends:',
    '      - { name: A1, role: feeder, at: [0, 0, 1] }   # CHECK: the point is a placeholder',
    '      - { name: V1, role: drain, at: [0, 0, 2] }    # CHECK: the point is a placeholder',
    '      # - { name: B1, role: branch, of: A1, at: [0, 0, 3], spare: yes, supplies: "S8" }',
    sac
      ? `    sac: [${sac.join(', ')}]   # as given to pavm new`
      : '    sac: [0, 0, 0]         # CHECK: the point is a placeholder',
    '    # confirmed_by: NAME # who checked the surface against the slices; without it every document says: not confirmed',
    '    # confirmed_surface: SHA256 # of the surface that was checked, as surfaces/report.md gives it',
  ];
}

function scanBlock(scan: DraftScan | undefined): string {
  if (!scan) return DRAFT_SCAN;
  const read = '# read from the series';
  return [
    'scan:',
    ...(scan.date === undefined ? [] : [`  date: ${scan.date}           ${read}`]),
    ...(scan.sliceThicknessMm === undefined
      ? []
      : [
          `  slice_thickness: ${scan.sliceThicknessMm} mm   ${read}; with in_plane: the interval of every calibre depends on it`,
        ]),
    ...(scan.inPlaneMm === undefined
      ? []
      : [`  in_plane: ${scan.inPlaneMm} mm         ${read}: pixel size within a slice`]),
    `  series: ${scalar(scan.series)}`,
  ].join('\n');
}

/** A text as a YAML double-quoted scalar; JSON strings are a subset of those. */
const scalar = (text: string): string => JSON.stringify(text);

function partLines(meshes: readonly string[]): string[] {
  const guessed = meshes.map(guessRole);
  const known = meshes.flatMap((mesh, i) => {
    const role = guessed[i];
    return role === undefined ? [] : [{ role, mesh }];
  });
  const names = structureNames(known);
  const firstFeeder = names[known.findIndex(({ role }) => role === 'feeder')];
  const lines = [
    '  # One entry a structure. Roles: feeder | sac | drain | branch | systemic-feeder | airway | lobe | heart | chest-wall.',
    '  # More keys: object: NAME (of a multi-object file), of: A1 (the vessel a branch leaves), spare: yes (a branch that',
    '  # must stay open), supplies: S8, arises_from: "A9 of the left lower lobe".',
  ];
  if (firstFeeder === undefined) {
    lines.push(
      '  # CHECK: no file name says feeder or artery. The first file is entered as the feeder so that the file can be read.',
    );
  }
  lines.push('  parts:');
  const feederAt = firstFeeder === undefined ? Math.max(0, guessed.indexOf(undefined)) : -1;
  let next = 0;
  meshes.forEach((mesh, i) => {
    const role: PartRole | undefined = guessed[i];
    const name = role === undefined ? undefined : names[next++];
    if (i === feederAt) {
      lines.push(
        `    - { name: A1, role: feeder, mesh: ${scalar(mesh)} }   # CHECK: the role is a placeholder`,
      );
    } else if (role === undefined) {
      lines.push(
        `    # - { name: NAME, role: ROLE, mesh: ${scalar(mesh)} }   # the file name says no role: fill in, or delete`,
      );
    } else {
      const of = role === 'branch' ? `, of: ${firstFeeder ?? 'A1'}, spare: yes` : '';
      lines.push(
        `    - { name: ${name}, role: ${role}${of}, mesh: ${scalar(mesh)} }   # role guessed from the file name: CHECK`,
      );
    }
  });
  return lines;
}

const LETTER_ROLES: readonly (readonly [string, string])[] = [
  ['A1', 'feeder'],
  ['V1', 'drain'],
];

/** Number of ends from which the surface may be a whole vascular tree. */
export const TREE_ENDS = 12;

function wholeLines(
  mesh: string,
  ends: readonly ProposedEnd[],
  digits: number,
  sac: DraftInput['sac'],
): string[] {
  const written = (at: readonly number[]): string => at.map((x) => Number(x.toFixed(digits)) + 0).join(', ');
  const lines = [
    '  # One surface of the whole blood pool. Give a point (mesh unit) inside the far end of each vessel.',
    '  # Roles: feeder | drain | branch | systemic-feeder. More keys: of: A1, spare: yes, supplies: S8, arises_from: "...".',
    '  whole:',
    `    mesh: ${scalar(mesh)}`,
    '    ends:',
  ];
  if (ends.length === 0) {
    lines.push(
      '      # CHECK: these two points are placeholders; "pavm inspect FILE" lists the open ends with their coordinates.',
      '      - { name: A1, role: feeder, at: [0, 0, 0] }',
      '      - { name: V1, role: drain, at: [0, 0, 0] }',
      '      # - { name: B1, role: branch, of: A1, at: [0, 0, 0], spare: yes, supplies: "S8" }',
    );
  }
  if (ends.length >= TREE_ENDS && !sac)
    lines.push(
      `      # CHECK: ${ends.length} ends: is this a whole vascular tree? Then name only the vessels of the lesion, each at a point before it`,
      '      # divides; what lies past the points is left out. "pavm new DIR --sac X,Y,Z --reach 40mm" writes those about the sac.',
    );
  ends.forEach(({ letter, at, calibreMm }, i) => {
    const [name, role] = LETTER_ROLES[i] ?? [`B${i - 1}`, 'branch'];
    const of = role === 'branch' ? ', of: A1' : '';
    lines.push(
      `      - { name: ${name}, role: ${role}${of}, at: [${written(at)}] }   # opening ${letter}, ${calibreMm.toFixed(1)} mm wide; role is a placeholder: CHECK`,
    );
  });
  lines.push(
    sac
      ? `    sac: [${written(sac)}]   # as given to pavm new; the vessels above are cut at their points where they go on`
      : '    # sac: [0, 0, 0]      # a point inside the sac; needed only where the widest place is not the sac',
  );
  return lines;
}
