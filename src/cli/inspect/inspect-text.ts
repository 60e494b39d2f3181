import { coordinates, fixed } from '../../foundation/number-text.js';
import { TREE_ENDS } from '../../case/draft-case.js';
import type { ObjectDescription, OpenEnd } from '../../mesh/describe-object.js';
import type { Identity } from '../../mesh/recognise/identity-fields.js';
import { unitDigits } from '../input/mesh-unit.js';

const MOST_LISTED = 10;
const MOST_ENDS = 100;

/** One object of a mesh file as text; `unit` is the name of the file's coordinate unit. */
export function objectText(o: ObjectDescription, unit: string, unitMm: number): string {
  const digits = unitDigits(unitMm);
  const lines = [`object "${o.name}"`];
  const row = (label: string, text: string): void => {
    lines.push(`  ${label.padEnd(20)} ${text}`);
  };
  row('triangles', `${o.triangles}, on ${o.vertices} vertices`);
  row('watertight', o.watertight ? 'yes' : 'no');
  row(
    'volume',
    o.volume_ml === undefined ? `not computed: ${o.volume_absent_because}` : `${fixed(o.volume_ml, 4)} mL`,
  );
  row('area', `${fixed(o.area_cm2, 4)} cm2`);
  const { min, max, size } = o.bounding_box_mm;
  row(
    'bounding box',
    `${size.map((x) => fixed(x, 2)).join(' x ')} mm, ${bracketed(min)} to ${bracketed(max)} mm`,
  );
  const sizes = o.components.map((c) => `${c.triangles}${c.cavity ? ' (cavity)' : ''}`);
  const parts = sizes.length;
  row('connected parts', `${parts}${parts > 1 ? `, triangles: ${shortened(sizes)}` : ''}`);
  const ends = o.open_ends.filter((end) => end.kind === 'end');
  const cracks = o.open_ends.filter((end) => end.kind === 'crack');
  row('open ends', ends.length === 0 ? 'none' : String(ends.length));
  const closed = (end: OpenEnd): string => (end.closed_for_volume ? ', closed for the volume' : '');
  for (const end of ends.slice(0, MOST_ENDS))
    lines.push(
      `    ${end.letter.padEnd(3)} at ${bracketed(end.at, digits)} ${unit}, diameter ${fixed(end.diameter_mm, 2)} mm, off its plane by ${fixed(end.off_plane_mm, 3)} mm, faces ${bracketed(end.direction)}${closed(end)}`,
    );
  if (ends.length > MOST_ENDS) lines.push(`    and ${ends.length - MOST_ENDS} smaller`);
  if (cracks.length > 0) {
    const widest = cracks[0].width_mm;
    row(
      'cracks and holes',
      `${cracks.length}${widest === undefined ? '' : `, up to ${fixed(widest, 2)} mm wide`}; a case closes them with surfaces.mend, up to the width that it states`,
    );
    for (const end of cracks.slice(0, MOST_LISTED))
      lines.push(
        `    ${end.letter.padEnd(3)} at ${bracketed(end.at, digits)} ${unit}, ${end.width_mm === undefined ? 'of unknown width' : `${fixed(end.width_mm, 2)} mm wide`}, ${fixed(end.perimeter_mm / 2, 1)} mm long${closed(end)}`,
      );
    if (cracks.length > MOST_LISTED) lines.push(`    and ${cracks.length - MOST_LISTED} narrower`);
  }
  if (o.vessel_ends) {
    row(
      'vessel ends',
      `${o.vessel_ends.length}, proposed from the shape; a case names them in surfaces.whole.ends`,
    );
    if (o.vessel_ends.length >= TREE_ENDS && o.vessel_ends.every(({ kind }) => kind !== 'cut'))
      row('', 'a whole vascular tree? --sac X,Y,Z --reach 40mm lists only the vessels about the sac');
    for (const end of o.vessel_ends.slice(0, MOST_ENDS))
      lines.push(
        `    ${end.letter.padEnd(3)} at ${bracketed(end.at, digits)} ${unit}, calibre ${fixed(end.calibre_mm, 2)} mm, ${end.kind}, faces ${bracketed(end.direction)}`,
      );
  }
  if (o.vessel_ends && o.vessel_ends.length > MOST_ENDS)
    lines.push(`    and ${o.vessel_ends.length - MOST_ENDS} smaller; --json lists all`);
  if (o.widest_place) {
    const { at, diameter_mm, at_most_mm } = o.widest_place;
    const open =
      at_most_mm === undefined
        ? ''
        : `; not searched to the end, another may be up to ${fixed(at_most_mm, 2)} mm`;
    row('widest place', `at ${bracketed(at, digits)} ${unit}, ${fixed(diameter_mm, 2)} mm across${open}`);
  }
  row('non-manifold edges', String(o.non_manifold_edges));
  const crossings = o.self_intersections;
  const first = crossings.first_mm ? `, the first at ${bracketed(crossings.first_mm)} mm` : '';
  row('self-intersections', `${crossings.at_least ? 'at least ' : ''}${crossings.count}${first}`);
  row('degenerate triangles', String(o.degenerate_triangles));
  row('duplicate triangles', String(o.duplicate_triangles));
  for (const f of o.findings) lines.push(`  ${f.level} ${f.id}: ${f.text}`);
  return `${lines.join('\n')}\n`;
}

function shortened(list: readonly string[]): string {
  const rest = list.length - MOST_LISTED;
  return list.slice(0, MOST_LISTED).join(', ') + (rest > 0 ? ` and ${rest} more` : '');
}

/** The lines on a file's identifiers; they name the fields but never the values. */
export function identityLines({ by, freeText }: Identity): string[] {
  const lines = [
    by.length > 0
      ? `identified           yes, by ${by.join(', ')}`
      : 'identified           no, by the fields that are looked at',
  ];
  if (freeText.length > 0)
    lines.push(`free text            ${freeText.join(', ')}: read it before you pass the file on`);
  return lines;
}

/** `(1.00, 2.00, 3.00)`. */
const bracketed = (point: ArrayLike<number>, digits = 2): string => `(${coordinates(point, digits)})`;
