import { nearestHint } from '../foundation/nearest-key.js';
import { quoted } from '../foundation/quoted-text.js';
import { structurePaths } from './check-surfaces.js';
import type { FileReader } from './file-reader.js';
import type { Problems } from './problems.js';

/** The ways to define where a model is cut, each with its keys. */
const WAYS = [['neck'], ['axis', 'at'], ['point', 'normal']] as const;
/** Roles that end at a neck of the sac. */
const AT_NECK: readonly (string | undefined)[] = ['feeder', 'drain', 'systemic-feeder'];

/** One way of cutting the model, completely defined: a plane with a direction, an axis that the surfaces have, a vessel with a neck. */
export function checkPrint(reader: FileReader, problems: Problems): void {
  if (!reader.has('print.cut') || problems.at('print.cut')) return;
  const at = (key: string): string => `print.cut.${key}`;
  const given = WAYS.filter((keys) => keys.some((key) => reader.has(at(key))));
  if (given.length !== 1) {
    const extra = given[1]?.find((key) => reader.has(at(key)));
    problems.add(
      extra ? at(extra) : 'print.cut',
      `${extra ? 'is given beside another way to cut' : 'does not say where to cut'}. Give either neck, or axis with at, or point with normal.`,
    );
    return;
  }
  for (const key of given[0]) {
    if (!reader.has(at(key))) problems.add(at(key), `is missing. ${given[0].join(' and ')} belong together.`);
  }
  if (
    reader.has(at('axis')) &&
    reader.has('surfaces') &&
    (reader.text('surfaces.frame') ?? 'unknown') === 'unknown'
  )
    problems.add(
      at('axis'),
      'needs surfaces.frame, since the patient axes of the surfaces are not known. Write the frame, or cut by point and normal.',
    );
  if (reader.has(at('normal')) && !problems.under(at('normal'))) {
    const normal = reader.items(at('normal')).map((item) => reader.number(item));
    if (normal.every((c) => c === 0))
      problems.add(at('normal'), 'has no direction. Write for example [0, 0, 1].');
  }
  checkNeck(reader, problems, at('neck'));
}

function checkNeck(reader: FileReader, problems: Problems, path: string): void {
  const name = reader.text(path);
  if (name === undefined) return;
  const vessels = structurePaths(reader)
    .map((p) => ({ name: reader.text(`${p}.name`), role: reader.text(`${p}.role`) }))
    .filter((v) => v.name !== undefined && AT_NECK.includes(v.role));
  if (vessels.some((v) => v.name === name)) return;
  const names = vessels.map((v) => v.name as string);
  problems.add(path, `${quoted(name)} is not a feeder or drain of this case. ${nearestHint(name, names)}`);
}
