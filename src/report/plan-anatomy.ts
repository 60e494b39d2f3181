/** Sac, vessels and their branches in plan.md. */
import { fixed, rangeText } from '../foundation/number-text.js';
import type { Result, Vessel } from '../result/result.generated.js';
import { bullets, clause, markdownText, section, table } from './markdown.js';
import { KINDS, orderedVessels, quantity, ROLE_WORDS } from './words.js';

/** Sac, vessels with their branches, and the shortest distances between neighbours. */
export function anatomySection(result: Result): string {
  const { lesion, sac } = result;
  const kind = lesion.kind ?? 'not classified';
  return section(2, 'Lesion and vessels', [
    `Kind: ${kind}${lesion.kind_because ? `: ${clause(lesion.kind_because)}` : '.'}`,
    sac
      ? `Sac beyond the necks ${KINDS.measured.mark}: ${fixed(sac.volume_ml, 2)} mL${sac.volume_interval_ml ? ` (${rangeText(sac.volume_interval_ml, 2, 'mL')})` : ''}, surface ${fixed(sac.surface_cm2, 1)} cm², longest ${fixed(sac.longest_mm, 1)} mm, axes ${sac.axes_mm.map((axis) => fixed(axis, 1)).join('×')} mm.`
      : 'Sac: not measured; see Findings.',
    ...vesselBlocks(result),
    neighbourText(result),
  ]);
}

function neighbourText(result: Result): string | undefined {
  if (!result.neighbours?.length) return undefined;
  const pairs = result.neighbours.map(
    (pair) =>
      `${markdownText(pair.from)} to ${markdownText(pair.to)} ${quantity(pair.distance_mm, 1, 'mm', 'measured')}`,
  );
  return `Shortest distances: ${pairs.join('; ')}.`;
}

/** One row for each vessel, feeding arteries first, then its side branches along the centreline. */
function vesselBlocks(result: Result): (string | undefined)[] {
  const vessels = orderedVessels(result);
  if (vessels.length === 0) return ['No vessel was measured; the section Findings says why.'];
  const rows = vessels.map(([name, vessel]) => [
    `**${markdownText(name)}**`,
    vessel.of ? `${ROLE_WORDS[vessel.role]} of ${markdownText(vessel.of)}` : ROLE_WORDS[vessel.role],
    // The table of landing zones states where those arise.
    vessel.arises_from && !vessel.landing ? markdownText(vessel.arises_from) : '',
    lengthCell(vessel),
    `${fixed(vessel.calibre_mm.min, 1)}/${fixed(vessel.calibre_mm.mean, 1)}/${fixed(vessel.calibre_mm.max, 1)}`,
    vessel.neck?.calibre_mm !== undefined ? fixed(vessel.neck.calibre_mm, 1) : '',
    vessel.tortuosity === undefined ? '' : fixed(vessel.tortuosity, 2),
    vessel.supplies ? markdownText(vessel.supplies) : '',
    vessel.spare ? '**spare**' : '',
  ]);
  const headings = [
    'Vessel (m)',
    'Role',
    'Arises from',
    'Length, mm',
    'Calibre min/mean/max, mm',
    'At the neck, mm',
    'Tortuosity',
    'Supplies',
    'Keep',
  ];
  // A column that is empty for all vessels is left out.
  const filled = headings.map((_, i) => i).filter((i) => rows.some((row) => row[i] !== ''));
  return [
    table(
      filled.map((i) => headings[i]),
      rows.map((row) => filled.map((i) => row[i])),
    ),
    '95 % interval in brackets. Length: far end to neck. Calibre: 2·√(area/π) of the section. Tortuosity: length/distance of the ends.',
    branchText(vessels),
  ];
}

function lengthCell({ length_mm: length, length_interval_mm: interval }: Vessel): string {
  if (length === undefined) return 'not computed';
  return `${fixed(length, 1)}${interval ? ` (${fixed(interval[0], 1)}–${fixed(interval[1], 1)})` : ''}`;
}

function branchText(vessels: readonly [string, Vessel][]): string | undefined {
  const lines = vessels.flatMap(([name, vessel]) =>
    vessel.branches.map((branch) => {
      const opening =
        branch.from_mm !== undefined && branch.to_mm !== undefined
          ? `, opening ${rangeText([branch.from_mm, branch.to_mm], 1, 'mm')} ${KINDS.measured.mark}`
          : '';
      const calibre =
        branch.calibre_mm !== undefined
          ? `, calibre ${quantity(branch.calibre_mm, 1, 'mm', 'measured')}`
          : '';
      return `${markdownText(branch.name)} leaves ${markdownText(name)} at ${quantity(branch.at_mm, 1, 'mm', 'measured')}${opening}${calibre}`;
    }),
  );
  return lines.length === 0
    ? undefined
    : `Side branches, from the parent's far end towards the sac:\n\n${bullets(lines)}`;
}
