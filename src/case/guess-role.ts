import type { PartRole } from './case.js';

/**
 * Words in file names and the roles that they suggest, first match wins. Common practice, no source: a name is only a hint, so every guess
 * is marked as one where it is written.
 */
const HINTS: readonly (readonly [RegExp, PartRole])[] = [
  [/systemic|bronchial-?artery|intercostal|phrenic/, 'systemic-feeder'],
  [/branch/, 'branch'],
  [/drain|vein|venous|\bv\d+\b/, 'drain'],
  [/feeder|feeding|artery|arterial|\ba\d+\b/, 'feeder'],
  [/sac\b|aneurysm|nidus/, 'sac'],
  [/bronch|airway|trachea/, 'airway'],
  [/heart|cardiac|atrium|ventricle/, 'heart'],
  [/chest|\brib|thorax|sternum/, 'chest-wall'],
  [/lobe/, 'lobe'],
];

/** The role that a mesh's file name suggests, or undefined. Looks only at the last part of the path. */
export function guessRole(path: string): PartRole | undefined {
  const name = path.split('/').pop() ?? '';
  const words = name
    .replace(/\.[^.]*$/, '')
    .replace(/([a-z])([A-Z])/g, '$1-$2')
    .toLowerCase()
    .replace(/[^a-z0-9]+/g, '-');
  return HINTS.find(([pattern]) => pattern.test(words))?.[1];
}

const LETTERS: Partial<Record<PartRole, string>> = {
  feeder: 'A',
  drain: 'V',
  branch: 'B',
  'systemic-feeder': 'Y',
};

/**
 * Short names for structures in order: A for feeders, V for drains, B for branches, Y for systemic feeders, the role for the others, each
 * with a number: the number at the end of the file name if these differ within the role, otherwise a count.
 */
export function structureNames(structures: readonly { role: PartRole; mesh: string }[]): string[] {
  const names = structures.map(() => '');
  for (const role of new Set(structures.map((structure) => structure.role))) {
    const indices = structures.flatMap((structure, i) => (structure.role === role ? [i] : []));
    const endings = indices.map((i) => /(\d{1,3})\.[^./]*$/.exec(structures[i].mesh)?.[1]);
    const differ =
      endings.every((n) => n !== undefined) && new Set(endings.map(Number)).size === endings.length;
    indices.forEach((index, k) => {
      const number = differ ? Number(endings[k]) : k + 1;
      const letter = LETTERS[role];
      const word = role === 'lobe' ? 'lung-lobe' : role;
      names[index] = letter ? `${letter}${number}` : indices.length === 1 ? word : `${word}-${number}`;
    });
  }
  return names;
}
