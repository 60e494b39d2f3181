import { type Finding, finding } from '../foundation/finding.js';
import { nearestHint } from '../foundation/nearest-key.js';
import { quoted } from '../foundation/quoted-text.js';
import type { PartRole } from './case.js';
import type { FileReader } from './file-reader.js';
import { slashed } from './path-text.js';
import { checkFromScan } from './check-from-scan.js';
import type { Problems } from './problems.js';
import { VESSEL_ROLES } from './vocabulary.js';

/** Each form of surfaces, and the list of structures in it. */
const FORMS = [
  ['parts', 'surfaces.parts'],
  ['whole', 'surfaces.whole.ends'],
  ['labels', 'surfaces.labels.parts'],
  ['from_scan', 'surfaces.from_scan.ends'],
] as const;
const ONE_FORM = 'Give exactly one of parts, whole, labels or from_scan.';

/** Paths of the named structures of whichever form of surfaces the file uses. */
export function structurePaths(reader: FileReader): string[] {
  return FORMS.flatMap(([, list]) => reader.items(list));
}

/** Only one form, unique names, branches that leave a vessel, at least one feeder unless the lesion was treated. */
export function checkSurfaces(reader: FileReader, problems: Problems, findings: Finding[]): void {
  if (!reader.has('surfaces')) return;
  const forms = FORMS.filter(([form]) => reader.has(`surfaces.${form}`));
  if (forms.length === 0 && !problems.under('surfaces')) {
    problems.add('surfaces', `contains no surface. ${ONE_FORM}`);
  }
  if (forms.length > 1) {
    problems.add(`surfaces.${forms[1][0]}`, `is given beside ${forms[0][0]}. ${ONE_FORM}`);
    return;
  }
  const paths = structurePaths(reader);
  if (paths.length === 0) return;
  const [[form, list]] = forms;
  if (form === 'from_scan') checkFromScan(reader, problems);
  if (problems.at(list)) return;
  checkNames(reader, problems, paths);
  checkLabels(reader, problems);
  checkRoles(reader, problems, findings, { form, list, paths });
  checkParents(reader, problems, findings, paths);
  checkSharedMeshes(reader, findings);
  checkFrame(reader, findings, form === 'from_scan');
}

/** At least one feeder unless the lesion was treated; notes on values that are absent without sac or drain. */
function checkRoles(
  reader: FileReader,
  problems: Problems,
  findings: Finding[],
  { form, list, paths }: { form: string; list: string; paths: readonly string[] },
): void {
  const roles = paths.map((path) => reader.word<PartRole>(`${path}.role`));
  const rolesKnown = roles.every((role) => role !== undefined);
  const noFeeder = rolesKnown && !roles.includes('feeder');
  const treated = saysTreated(reader);
  if (noFeeder && !treated) {
    problems.add(
      list,
      'names no feeder. At least one structure needs the role feeder. Where a treatment has closed them all, write its date as lesion.treated.',
    );
  } else if (noFeeder) {
    findings.push(
      finding(
        'caution',
        'no-feeder-open',
        list,
        'No structure has the role feeder: after the treatment there is none to close, and no landing zone, device or closure is computed. Absence from the model does not prove closure: look for it on the images.',
      ),
    );
  }
  if (!rolesKnown) return;
  if (form !== 'whole' && form !== 'from_scan' && !roles.includes('sac')) {
    findings.push(
      finding(
        noFeeder && treated ? 'caution' : 'stop',
        'no-sac',
        list,
        'No structure has the role sac: necks, landing zones and the sac volume cannot be computed.',
      ),
    );
  }
  const sacs = paths.filter((_, i) => roles[i] === 'sac').map((path) => reader.text(`${path}.name`));
  if (sacs.length > 1) {
    findings.push(
      finding(
        'stop',
        'several-sacs',
        list,
        `${sacs.join(', ')}: ${sacs.length} structures have the role sac, and vessels are measured only against the first. A case holds one lesion: write one case for each.`,
      ),
    );
  }
  if (!roles.includes('drain')) {
    findings.push(
      finding(
        'caution',
        'no-drain',
        list,
        'No structure has the role drain: the draining vein is not measured.',
      ),
    );
  }
}

function checkFrame(reader: FileReader, findings: Finding[], isFromScan: boolean): void {
  if ((isFromScan || reader.has('surfaces.unit')) && !reader.has('surfaces.frame')) {
    findings.push(
      finding(
        'note',
        'frame-assumed',
        'surfaces.frame',
        isFromScan
          ? 'No frame is given, so the points are taken in LPS, the axes of DICOM.'
          : 'No frame is given, so it is taken as unknown: projection angles cannot be computed. DICOM coordinates are LPS.',
      ),
    );
  }
}

/** By a date, or by a sample from after the treatment. */
const saysTreated = (reader: FileReader): boolean =>
  reader.has('lesion.treated') ||
  reader.items('gases').some((sample) => reader.word(`${sample}.when`) === 'after');

function checkNames(reader: FileReader, problems: Problems, paths: readonly string[]): void {
  const seen = new Map<string, { name: string; path: string }>();
  for (const path of paths) {
    const name = reader.text(`${path}.name`);
    if (name === undefined) continue;
    const before = seen.get(name.toLowerCase());
    if (before) {
      const how = before.name === name ? 'is the name of' : `differs only in letter case from the name of`;
      problems.add(`${path}.name`, `${quoted(name)} ${how} ${before.path} too. Names must differ.`);
    } else seen.set(name.toLowerCase(), { name, path });
    const role = reader.word<PartRole>(`${path}.role`);
    if (name.toLowerCase() === 'lobe' && role !== undefined && role !== 'lobe') {
      problems.add(`${path}.name`, `${quoted(name)} is kept for the lobe itself. Choose another name.`);
    }
  }
}

/** Two structures from one object of one file are more often a copying mistake than intended. */
function checkSharedMeshes(reader: FileReader, findings: Finding[]): void {
  const seen = new Map<string, string>();
  for (const path of reader.items('surfaces.parts')) {
    const mesh = reader.text(`${path}.mesh`);
    if (mesh === undefined) continue;
    const key = JSON.stringify([slashed(mesh), reader.text(`${path}.object`) ?? '']);
    const before = seen.get(key);
    if (before === undefined) seen.set(key, path);
    else
      findings.push(
        finding(
          'caution',
          'mesh-used-twice',
          `${path}.mesh`,
          `${path} and ${before} use the same mesh. Check the file name, or name an object of the file for each.`,
        ),
      );
  }
}

function checkLabels(reader: FileReader, problems: Problems): void {
  for (const path of reader.items('surfaces.labels.parts')) {
    const label = reader.number(`${path}.label`);
    if (label !== undefined && (label < 1 || label > 65535)) {
      problems.add(
        `${path}.label`,
        `${quoted(String(label))} is not a label number: 1 to 65535, since 0 is the background.`,
      );
    }
    const text = reader.text(`${path}.label`);
    if (text !== undefined && (text.trim() === '' || text.length > 200)) {
      problems.add(`${path}.label`, `${quoted(text)} is not a label name: 1 to 200 characters.`);
    }
  }
}

/** The vessel that a branch leaves: `of`, or the only feeder. Undefined if there is neither. */
export function parentOf(reader: FileReader, path: string, paths: readonly string[]): string | undefined {
  const written = reader.text(`${path}.of`);
  if (written !== undefined || reader.has(`${path}.of`)) return written;
  if (reader.word<PartRole>(`${path}.role`) !== 'branch') return undefined;
  const feeders = paths.filter((other) => reader.word<PartRole>(`${other}.role`) === 'feeder');
  return feeders.length === 1 ? reader.text(`${feeders[0]}.name`) : undefined;
}

function checkParents(
  reader: FileReader,
  problems: Problems,
  findings: Finding[],
  paths: readonly string[],
): void {
  const named = paths.map((path) => ({
    path,
    name: reader.text(`${path}.name`),
    role: reader.word<PartRole>(`${path}.role`),
  }));
  if (named.some(({ name }) => name === undefined)) return;
  const rolesKnown = named.every(({ role }) => role !== undefined);
  const vessels = named.filter(({ role }) => role === undefined || VESSEL_ROLES.includes(role));
  const names = vessels.map(({ name }) => name as string);
  for (const { path, name, role } of named) {
    const of = reader.text(`${path}.of`);
    if (of !== undefined) {
      const others = names.filter((other) => other !== name);
      if (of === name)
        problems.add(`${path}.of`, `${quoted(of)} is the structure itself. Name the vessel it leaves.`);
      else if (!others.includes(of)) {
        const exists = named.some((other) => other.name === of);
        problems.add(
          `${path}.of`,
          exists
            ? `${quoted(of)} is not a vessel. Name one of: ${others.join(', ')}.`
            : `${quoted(of)} is not the name of a structure here. ${nearestHint(of, others)}`,
        );
      } else if (leavesItself(reader, path, paths)) {
        problems.add(
          `${path}.of`,
          `${quoted(of)} leads back to ${name}: vessels cannot leave each other in a circle.`,
        );
      }
      continue;
    }
    if (role !== 'branch' || !rolesKnown || reader.has(`${path}.of`)) continue;
    const assumed = parentOf(reader, path, paths);
    if (assumed === undefined) {
      const others = names.filter((other) => other !== name);
      const why = vessels.some((vessel) => vessel.role === 'feeder')
        ? 'There are several feeders'
        : 'There is no feeder';
      problems.add(
        `${path}.of`,
        `is missing. ${why}: name the vessel that ${name} leaves${others.length > 0 ? `, for example ${quoted(others[0])}` : ''}.`,
      );
    } else {
      findings.push(
        finding(
          'note',
          'branch-parent-assumed',
          path,
          `${name} does not say which vessel it leaves; it is taken as a branch of ${assumed}, the only feeder.`,
        ),
      );
    }
  }
}

function leavesItself(reader: FileReader, start: string, paths: readonly string[]): boolean {
  const byName = new Map(paths.map((path) => [reader.text(`${path}.name`), path]));
  let current: string | undefined = start;
  for (let step = 0; step <= paths.length && current !== undefined; step++) {
    const parent = reader.text(`${current}.of`);
    if (parent === undefined) return false;
    current = byName.get(parent);
    if (current === start) return true;
  }
  return false;
}
