/** Draft of a patient file from the case files of its lesions. Works on the text only, so that comments and spelling are kept. */

/** A case file that is to become a lesion. */
export interface CaseToJoin {
  /** Folder of the case, from that of the patient file, with forward slashes. */
  folder: string;
  /** Name of the case file in it. */
  file: string;
  text: string;
}

export interface PatientDraft {
  patient: string;
  /** Case files without the patient's blocks, written next to the original files; only if these contain such blocks. */
  lesions: { folder: string; file: string; text: string }[];
  /** Points for the user to check. */
  notes: string[];
}

/** Name of the case file of a lesion that is written next to a case file with patient blocks. */
export const LESION_FILE = 'lesion.yaml';

const PATIENT_BLOCKS = ['patient', 'blood', 'gases', 'circulation'] as const;
/** These are moved as well; the first file that has one provides it. */
const MOVED = [...PATIENT_BLOCKS, 'shelf', 'planned', 'team', 'at_hand'] as const;
/** Only for a single case: the key of a teaching case does not apply to one lesion among others. */
const DROPPED = ['expected'];

/**
 * Joins cases to a patient file. Blocks of the patient come from the first case that has them; if another case differs, a note names it.
 * The original case files are not changed.
 */
export function draftPatient(id: string, cases: readonly CaseToJoin[]): PatientDraft {
  const notes: string[] = [];
  const blocks = new Map<string, { text: string; from: string }>();
  const lesions: PatientDraft['lesions'] = [];
  const named: { id: string; path: string }[] = [];
  const ids = new Set<string>();
  for (const { folder, file, text } of cases) {
    const parts = topBlocks(text);
    for (const key of MOVED) {
      const own = parts.find((part) => part.key === key);
      if (!own) continue;
      const moved = key === 'shelf' ? rebased(own.text, folder) : own.text;
      const known = blocks.get(key);
      if (!known) blocks.set(key, { text: moved, from: folder });
      else if (plain(known.text) !== plain(moved))
        notes.push(`${key}: ${folder} differs from that of ${known.from}, which was taken.`);
    }
    const kept = parts.filter(
      ({ key }) => key === undefined || !([...MOVED, ...DROPPED] as string[]).includes(key),
    );
    const hasOwn = kept.length < parts.length;
    if (hasOwn) lesions.push({ folder, file: LESION_FILE, text: kept.map((part) => part.text).join('') });
    let name = idOf(folder);
    for (let n = 2; ids.has(name); n++) name = `${idOf(folder)}-${n}`;
    ids.add(name);
    named.push({ id: name, path: `${folder}/${hasOwn ? LESION_FILE : file}` });
  }
  const missing = PATIENT_BLOCKS.filter((key) => !blocks.has(key));
  const patient = [
    'format: pavm-patient/1',
    `id: ${id}`,
    'purpose: clinical                 # CHECK: clinical | teaching | demo',
    ...MOVED.flatMap((key) => {
      const block = blocks.get(key);
      return block ? [`# CHECK: from ${block.from}`, block.text.trimEnd()] : [];
    }),
    ...missing.map((key) => `# ${key}: none of the cases holds it`),
    'lesions:',
    ...named.map(({ id: name, path }) => `  - { id: ${name}, case: ${path} }`),
    'remainder: unknown                # CHECK: none | unknown | a share of the shunt such as "10 %", in lesions without a surface',
    '',
  ].join('\n');
  return { patient, lesions, notes };
}

/** The blocks of a file by their keys at the left margin; the text before the first has no key. */
function topBlocks(text: string): { key?: string; text: string }[] {
  const parts = text.replace(/^\ufeff/, '').split(/^(?=[a-z_]+[ \t]*:)/m);
  return parts.map((part) => {
    const key = /^([a-z_]+)[ \t]*:/.exec(part)?.[1];
    return { ...(key !== undefined && { key }), text: part.endsWith('\n') ? part : `${part}\n` };
  });
}

const plain = (text: string): string => text.replace(/#.*$/gm, '').replace(/\s+/g, ' ').trim();

/** `shelf: shelf.yaml` of a folder, relative to the folder above. */
const rebased = (text: string, folder: string): string =>
  text.replace(/^(shelf[ \t]*:[ \t]*)(["']?)(?!\/)([^\s#"']+)/, (_, key, quote, path) =>
    path.startsWith('../') ? `${key}${quote}${path.slice(3)}` : `${key}${quote}${folder}/${path}`,
  );

const idOf = (folder: string): string =>
  folder
    .toLowerCase()
    .replace(/[^a-z0-9]+/g, '-')
    .replace(/^-+|-+$/g, '')
    .slice(0, 64) || 'lesion';
