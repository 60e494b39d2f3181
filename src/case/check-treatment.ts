import { quoted } from '../foundation/quoted-text.js';
import type { FileReader } from './file-reader.js';
import type { Problems } from './problems.js';
import { SEGMENTS } from './vocabulary.js';

const LONGEST_TEAM = 30;
const ROLE = /^[\p{L}\p{N}][\p{L}\p{N} _-]{0,39}$/u;

/** Extent and segments of plan B must agree with each other and with the side. */
export function checkSurgery(reader: FileReader, problems: Problems): void {
  const extent = reader.text('surgery.extent');
  const named = reader.items('surgery.segments');
  if (extent === 'segments' && named.length === 0 && !problems.under('surgery.segments')) {
    problems.add('surgery.extent', 'is segments, but none are named. Add segments, for example [S8].');
  }
  if (named.length > 0 && extent !== 'segments' && extent !== 'wedge' && !problems.under('surgery.extent')) {
    problems.add(
      'surgery.segments',
      `is given beside ${extent === undefined ? 'no extent' : `the extent ${extent}`}. Write extent: segments or extent: wedge, or delete the segments.`,
    );
  }
  const side = reader.word<'left' | 'right'>('lesion.side');
  if (side === undefined) return;
  const possible = [...new Set(Object.values(SEGMENTS[side]).flat())];
  for (const path of [...named, ...reader.items('surgery.obstructed_segments')]) {
    const segment = reader.text(path);
    if (segment === undefined || possible.includes(segment)) continue;
    problems.add(path, `${segment} is not a segment of the ${side} lung. It has ${possible.join(', ')}.`);
  }
}

/** Roles are shown as labels, so they are short plain words. */
export function checkTeam(reader: FileReader, problems: Problems): void {
  const roles = reader.entries('team');
  if (roles.length > LONGEST_TEAM)
    problems.add('team', `has ${roles.length} entries; at most ${LONGEST_TEAM} are read.`);
  for (const { key, path } of roles.slice(0, LONGEST_TEAM)) {
    if (!ROLE.test(key))
      problems.add(
        path,
        `the role ${quoted(key)} is not allowed here. Use letters, digits, spaces, - and _ only, at most 40 characters.`,
      );
  }
}
