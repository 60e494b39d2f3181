/** Lesion, vessel table and landing zones of plan.md. */
import { fixed, rangeText } from '../foundation/number-text.js';
import type { Result, Vessel } from '../result/result.generated.js';
import { bullets, clause, markdownText, section, sentence, table } from './markdown.js';
import {
  cellEstimate,
  estimate,
  KINDS,
  lobeText,
  noFeederText,
  orderedVessels,
  quantity,
  ROLE_WORDS,
  viewText,
} from './words.js';

/** What and where the lesion is, with the sac's measures and the gaps between neighbours. */
export function lesionSection(result: Result): string {
  const { lesion, sac } = result;
  const rows: string[][] = [
    ['Site', lobeText(lesion)],
    ['Segments', lesion.segments?.length ? lesion.segments.map(markdownText).join(', ') : 'not stated'],
    [
      'Kind',
      lesion.kind
        ? `${lesion.kind}${lesion.kind_because ? `: ${clause(lesion.kind_because)}` : ''}`
        : `not classified${lesion.kind_because ? `: ${clause(lesion.kind_because)}` : ''}`,
    ],
    ['Feeding arteries', lesion.feeder_count === undefined ? 'not counted' : fixed(lesion.feeder_count, 0)],
    ['Draining veins', lesion.drain_count === undefined ? 'not counted' : fixed(lesion.drain_count, 0)],
  ];
  if (sac) {
    rows.push(
      ['Sac volume, beyond the necks', estimate(sac.volume_ml, sac.volume_interval_ml, 2, 'mL', 'measured')],
      ['Sac surface', quantity(sac.surface_cm2, 1, 'cm²', 'measured')],
      ['Sac, longest extent', quantity(sac.longest_mm, 1, 'mm', 'measured')],
      [
        'Sac, principal axes',
        `${sac.axes_mm.map((axis) => fixed(axis, 1)).join(' × ')} mm ${KINDS.measured.mark}`,
      ],
    );
  } else rows.push(['Sac', 'not measured; see Findings']);
  return section(2, 'Lesion', [table(['What', 'Value'], rows), neighbourText(result)]);
}

function neighbourText(result: Result): string | undefined {
  if (!result.neighbours?.length) return undefined;
  return `Shortest distances between structures:\n\n${table(
    ['From', 'To', 'Distance'],
    result.neighbours.map((pair) => [
      markdownText(pair.from),
      markdownText(pair.to),
      quantity(pair.distance_mm, 1, 'mm', 'measured'),
    ]),
    ['left', 'left', 'right'],
  )}`;
}

/** One row for each vessel, feeding arteries first, then its side branches along the centreline. */
export function vesselSection(result: Result): string {
  const vessels = orderedVessels(result);
  if (vessels.length === 0) {
    return section(2, 'Vessel table', ['No vessel was measured; the section Findings says why.']);
  }
  const rows = vessels.map(([name, vessel]) => [
    `**${markdownText(name)}**`,
    vessel.of ? `${ROLE_WORDS[vessel.role]} of ${markdownText(vessel.of)}` : ROLE_WORDS[vessel.role],
    vessel.arises_from ? markdownText(vessel.arises_from) : 'not stated',
    cellEstimate(vessel.length_mm, vessel.length_interval_mm, 1, 'mm', 'measured'),
    `${fixed(vessel.calibre_mm.min, 1)} / ${fixed(vessel.calibre_mm.mean, 1)} / ${fixed(vessel.calibre_mm.max, 1)} mm ${KINDS.measured.mark}`,
    vessel.neck?.calibre_mm !== undefined ? quantity(vessel.neck.calibre_mm, 1, 'mm', 'measured') : '',
    `${fixed(vessel.tortuosity, 2)} (ratio) ${KINDS.measured.mark}`,
    vessel.supplies ? markdownText(vessel.supplies) : '',
    vessel.spare ? '**spare**' : '',
  ]);
  return section(2, 'Vessel table', [
    table(
      [
        'Vessel',
        'Role',
        'Arises from',
        'Length to the neck (95 % interval)',
        'Calibre min / mean / max',
        'Calibre at the neck',
        'Tortuosity',
        'Supplies',
        'Keep',
      ],
      rows,
    ),
    'Calibre is the equivalent diameter of the lumen section perpendicular to the centreline, 2·√(area/π). Tortuosity is centreline length over the straight distance between its ends. A dash means that the case states nothing.',
    branchText(vessels),
  ]);
}

function branchText(vessels: readonly [string, Vessel][]): string | undefined {
  const rows = vessels.flatMap(([name, vessel]) =>
    vessel.branches.map((branch) => [
      markdownText(branch.name),
      markdownText(name),
      quantity(branch.at_mm, 1, 'mm', 'measured'),
      branch.from_mm !== undefined && branch.to_mm !== undefined
        ? `${rangeText([branch.from_mm, branch.to_mm], 1, 'mm')} ${KINDS.measured.mark}`
        : '',
      branch.calibre_mm !== undefined ? quantity(branch.calibre_mm, 1, 'mm', 'measured') : '',
    ]),
  );
  if (rows.length === 0) return undefined;
  return `Side branches, measured along the parent vessel from its far end towards the sac:\n\n${table(
    ['Branch', 'Leaves', 'At', 'Opening', 'Calibre'],
    rows,
    ['left', 'left', 'right', 'right', 'right'],
  )}`;
}

/** Landing zones of the feeding arteries, and why a vessel has none. */
export function landingSection(result: Result): string {
  const feeders = orderedVessels(result).filter(
    ([, vessel]) => vessel.role === 'feeder' || vessel.role === 'systemic-feeder' || vessel.landing,
  );
  if (feeders.length === 0) {
    return section(2, 'Landing zones', [
      sentence(`${noFeederText(result)}, so there is no landing zone to report`),
    ]);
  }
  const rows = feeders.flatMap(([name, { landing }]) => (landing ? [landingRow(name, landing)] : []));
  const missing = feeders
    .filter(([, vessel]) => !vessel.landing)
    .map(
      ([name, vessel]) =>
        `**${markdownText(name)}**: no landing zone. ${sentence(vessel.landing_absent_because ?? 'The result gives no reason')}`,
    );
  const views = feeders.flatMap(([name, { landing }]) =>
    landing?.view_absent_because
      ? [`**${markdownText(name)}**: no working view. ${sentence(landing.view_absent_because)}`]
      : [],
  );
  const zones =
    rows.length > 0
      ? table(
          [
            'Vessel',
            'Reaches (from the far end)',
            'Length',
            'Mean calibre (95 % interval)',
            'Largest width',
            'Taper',
            'To the neck of the sac',
            'To the last side branch',
            'Working view',
          ],
          rows,
        )
      : undefined;
  const notes = [...missing, ...views];
  return section(2, 'Landing zones', [
    zones,
    notes.length > 0 ? bullets(notes) : undefined,
    rows.length > 0
      ? 'Taper is (largest − smallest) / mean of the equivalent calibre over the zone. The working view looks across the vessel at the middle of the zone; correct it under fluoroscopy.'
      : undefined,
  ]);
}

function landingRow(name: string, landing: NonNullable<Vessel['landing']>): string[] {
  return [
    `**${markdownText(name)}**`,
    `${rangeText([landing.from_mm, landing.to_mm], 1, 'mm')} ${KINDS.measured.mark}`,
    quantity(landing.length_mm, 1, 'mm', 'measured'),
    `${fixed(landing.calibre_mm, 1)} mm (${rangeText(landing.calibre_interval_mm, 1, 'mm')}) ${KINDS.measured.mark}`,
    landing.largest_width_mm !== undefined ? quantity(landing.largest_width_mm, 1, 'mm', 'measured') : '',
    quantity(landing.taper_percent, 0, '%', 'measured'),
    quantity(landing.to_sac_mm, 1, 'mm', 'measured'),
    landing.to_branch_mm !== undefined
      ? quantity(landing.to_branch_mm, 1, 'mm', 'measured')
      : 'no branch upstream',
    landing.view ? viewText(landing.view) : 'not computed',
  ];
}
