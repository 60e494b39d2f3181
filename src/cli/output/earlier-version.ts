import { lstat, open, readdir, readFile } from 'node:fs/promises';
import { join } from 'node:path';
import { STANDING_CAUTIONS } from '../../result/cautions.js';

/** Largest result that is accepted, bytes: a plan of 32 vessels has about 5 MB. */
const MOST_BYTES = 256 * 1024 * 1024;
/** Largest page for a bleed: it has 60 lines. */
const MOST_URGENT_BYTES = 256 * 1024;

const DOCUMENTS = [
  'result.json',
  'plan.md',
  'checklist.md',
  'counselling.md',
  'page.html',
  'plan.html',
  'print/model.3mf',
  'print/gauges.md',
];

/** Folders of pictures, and the file names of version 0.1.0 there. */
const PICTURES: readonly (readonly [string, RegExp])[] = [
  ['figures', /^(calibre|working)-[A-Za-z0-9_-]+\.svg$|^(closure|oxygen|readiness|shunt|views)\.svg$/],
  ['print/gauges', /^G[0-9]+\.svg$/],
];

/**
 * The files that version 0.1.0, which kept no list, wrote into a plan folder; also those of a later version whose list was lost.
 * Undefined if the folder holds no result in our format. Pictures and the page for a bleed count only if their content has our mark, meshes
 * only if the result names them.
 */
export async function filesOfEarlierVersion(folder: string): Promise<Set<string> | undefined> {
  const meshes = await meshesOfResult(join(folder, 'result.json'));
  if (meshes === undefined) return undefined;
  const named = meshes.map((file) => `print/${file}`);
  const found = new Set<string>();
  if (await isOurUrgentPage(join(folder, 'urgent.md'))) found.add('urgent.md');
  for (const path of [...DOCUMENTS, ...named]) if (await isFile(join(folder, path))) found.add(path);
  for (const [below, pattern] of PICTURES) {
    const names = await readdir(join(folder, below)).catch((): string[] => []);
    for (const name of names)
      if (pattern.test(name) && (await isOurPicture(join(folder, below, name))))
        found.add(`${below}/${name}`);
  }
  return found;
}

/** Names of the printed meshes; undefined if the file is not one of our results. The schema may be an earlier one. */
async function meshesOfResult(path: string): Promise<string[] | undefined> {
  const facts = await lstat(path).catch(() => undefined);
  if (!facts?.isFile() || facts.size > MOST_BYTES) return undefined;
  let value: { format?: unknown; print?: { parts?: unknown } } | null;
  try {
    value = JSON.parse(await readFile(path, 'utf8'));
  } catch {
    return undefined;
  }
  if (value?.format !== 'pavm-result/1') return undefined;
  const parts: unknown = value.print?.parts;
  if (!Array.isArray(parts)) return [];
  return parts.flatMap((part: { file?: unknown } | null) =>
    typeof part?.file === 'string' && /^[A-Za-z0-9_-]+\.stl$/.test(part.file) ? [part.file] : [],
  );
}

const isFile = (path: string): Promise<boolean> =>
  lstat(path).then(
    (facts) => facts.isFile(),
    () => false,
  );

/** Recognises the page for a bleed by our heading, and our cautions at its foot. */
async function isOurUrgentPage(path: string): Promise<boolean> {
  if (!(await isFile(path)) || (await lstat(path)).size > MOST_URGENT_BYTES) return false;
  const text = await readFile(path, 'utf8');
  return /^# (BLEEDING|STANDBY): /.test(text) && text.includes(STANDING_CAUTIONS[0]);
}

/** Recognises our pictures: the ids of title and description are made from the file name, or it is the sketch of a check point. */
async function isOurPicture(path: string): Promise<boolean> {
  if (!(await isFile(path))) return false;
  const file = await open(path);
  try {
    const head = Buffer.alloc(600);
    const { bytesRead } = await file.read(head, 0, head.length, 0);
    return /^<svg [^>]*role="img" aria-labelledby="[^"]*-title [^"]*-desc"/.test(
      head.toString('utf8', 0, bytesRead),
    );
  } finally {
    await file.close();
  }
}
