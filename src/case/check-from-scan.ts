import { fixed } from '../foundation/number-text.js';
import { quoted } from '../foundation/quoted-text.js';
import { distance, type Vec3 } from '../foundation/vector.js';
import type { FileReader } from './file-reader.js';
import type { Problems } from './problems.js';

/** Points closer together than this count as one, mm: half a voxel of a thin reconstruction. */
const SAME_POINT_MM = 0.3;

/** A surface from the scan needs a series, axes, and distinct points; keys that only apply to files must be absent. */
export function checkFromScan(reader: FileReader, problems: Problems): void {
  if (!reader.has('scan.series'))
    problems.add(
      'surfaces.from_scan',
      'makes the surface from a CT series, and the case names none. Write it as scan.series.',
    );
  const unit = reader.word('surfaces.unit');
  if (unit !== undefined && unit !== 'mm')
    problems.add('surfaces.unit', 'is given beside from_scan, whose points are in mm. Leave it out.');
  if (reader.word('surfaces.frame') === 'unknown')
    problems.add(
      'surfaces.frame',
      'is unknown, so the points cannot be found in the scan. Write LPS, as DICOM has it, or RAS.',
    );
  for (const key of ['mend', 'drop_below'])
    if (reader.has(`surfaces.${key}`))
      problems.add(
        `surfaces.${key}`,
        'is for surfaces from files; one from the scan is closed and of one piece. Leave it out.',
      );
  const at = 'surfaces.from_scan';
  if (reader.has(`${at}.confirmed_surface`) && !reader.has(`${at}.confirmed_by`))
    problems.add(
      `${at}.confirmed_surface`,
      'is given without confirmed_by. Write who checked that surface against the slices.',
    );
  for (const end of reader.items(`${at}.ends`)) {
    const name = reader.text(`${end}.name`);
    if (name?.toLowerCase() === 'sac')
      problems.add(`${end}.name`, `${quoted(name)} is kept for the sac itself. Choose another name.`);
  }
  checkPoints(reader, problems);
}

function checkPoints(reader: FileReader, problems: Problems): void {
  const places = [
    ...reader.items('surfaces.from_scan.ends').map((end) => `${end}.at`),
    'surfaces.from_scan.sac',
  ];
  const known: { path: string; at: Vec3 }[] = [];
  for (const path of places) {
    const numbers = reader.items(path).flatMap((item) => reader.number(item) ?? []);
    if (numbers.length !== 3) continue;
    const at = numbers as Vec3;
    const other = known.find((one) => distance(one.at, at) < SAME_POINT_MM);
    if (other)
      problems.add(
        path,
        `lies ${fixed(distance(other.at, at), 2)} mm from ${other.path}: two points of different vessels, or of vessel and sac, cannot be one. Correct one of them.`,
      );
    else known.push({ path, at });
  }
}
