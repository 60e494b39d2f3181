import { coordinates, fixed } from '../foundation/number-text.js';
import { UNSURE_WORDS } from '../result/proposal.js';
import type { Result } from '../result/result.generated.js';
import { cautionsSection, provenanceSection, purposeBanner } from './closing.js';
import type { FigureLink } from './figures/figures.js';
import { bullets, clause, document, markdownText, section, sentence, table } from './markdown.js';
import { orderedVessels, quantity, ROLE_WORDS } from './words.js';

type Proposal = NonNullable<Result['proposal']>;

/** A figure and its folder relative to the report: `../figures/`, or empty if it is in the same folder. */
export interface PlacedFigure extends FigureLink {
  folder: string;
}

/**
 * surfaces/report.md: what a surface from the scan depends on, where it is unsure, what to check and how to confirm it. Throws if the
 * result holds no such surface.
 */
export function renderSurfaceReport(result: Result, figures: readonly PlacedFigure[]): string {
  const { proposal } = result;
  if (!proposal) throw new RangeError('the result contains no surface from the scan');
  const title = result.title ? markdownText(result.title) : `Case ${markdownText(result.case)}`;
  return document([
    section(1, `Surface from the scan: ${title}`, [purposeBanner(result), standing(proposal)]),
    section(2, 'To check on the slices', [
      vesselRows(result, proposal),
      ...besideLines(result, proposal),
      `All places in mm, ${markdownText(result.frame_axes ?? 'LPS')}, as in the case.`,
    ]),
    section(2, 'Where the wall is unsure', unsureBlocks(proposal)),
    section(2, 'To confirm it', confirmBlocks(proposal)),
    section(2, 'What was done', stepBlocks(proposal)),
    section(2, 'Files', [
      bullets([
        'lesion.stl: the surface that everything was measured on; closed, mm.',
        `labels.nrrd: label 1 is the sac; ${proposal.ends.map(({ name }, i) => `${i + 2} is ${markdownText(name)}`).join(', ')}.`,
        ...(proposal.thrombus
          ? ['thrombus.stl: the part of the sac without contrast agent, offered apart.']
          : []),
      ]),
    ]),
    ...(figures.length > 0
      ? [
          section(
            2,
            'Pictures',
            figures.map(
              ({ name, alt, folder }) => `![${markdownText(alt)}](${folder}${encodeURIComponent(name)})`,
            ),
          ),
        ]
      : []),
    provenanceSection(result),
    cautionsSection(result),
  ]);
}

function standing({ confirmed, confirmed_by: by, not_confirmed_because: because }: Proposal): string {
  return confirmed === 'yes'
    ? `Made by this program from the scan and the points of the case; confirmed by ${markdownText(by ?? 'a reader')}, as the case says.`
    : `Made by this program from the scan and the points of the case. Not confirmed: ${clause(because ?? 'the result gives no reason')}`;
}

/** Each vessel with its end, the findings there, and its measurement. */
function vesselRows(result: Result, { ends }: Proposal): string {
  const vessels = new Map(orderedVessels(result));
  const rows = ends.map(({ name, point_mm, calibre_mm, lumen_hu, level_hu }) => {
    const vessel = vessels.get(name);
    const landing = vessel?.landing;
    return [
      `**${markdownText(name)}**${vessel ? ` (${ROLE_WORDS[vessel.role]})` : ''}`,
      coordinates(point_mm),
      calibre_mm === undefined ? '' : fixed(calibre_mm, 1),
      lumen_hu === undefined ? '' : fixed(lumen_hu, 0),
      level_hu === undefined ? '' : fixed(level_hu, 0),
      vessel === undefined
        ? 'not measured'
        : landing
          ? `landing ${quantity(landing.calibre_mm, 1, 'mm', 'measured')}`
          : `mean ${quantity(vessel.calibre_mm.mean, 1, 'mm', 'measured')}`,
    ];
  });
  return table(
    ['Vessel', 'Its end', 'Calibre there, mm', 'Lumen, HU', 'Wall at, HU', 'Measured calibre'],
    rows,
    ['left', 'left', 'right', 'right', 'right', 'left'],
  );
}

/** Structures next to the surface that may belong to it. */
function besideLines({ missed, uncontrasted }: Result, { touching, thrombus }: Proposal): string[] {
  const lines = [
    ...(missed ?? [])
      .filter(({ kind }) => kind !== 'side-branch')
      .map(
        ({ joins, point_mm, calibre_mm, length_mm }) =>
          `Not in the surface: an opacified vessel on ${markdownText(joins)} at ${coordinates(point_mm)}, ${fixed(calibre_mm, 1)} mm wide, followed for ${fixed(length_mm, 0)} mm. Feeder, drain or neither? \`pavm surface CASE --suggest\` prints it as a named end.`,
      ),
    ...touching.map(
      ({ of, point_mm, contact_mm }) =>
        `Parted from ${markdownText(of)}: a vessel that touches it at ${coordinates(point_mm)} over ${fixed(contact_mm, 1)} mm.`,
    ),
    ...(thrombus
      ? [
          `Left out: about ${fixed(thrombus.volume_ml, 1)} mL without contrast agent beside the opacified sac, at ${coordinates(thrombus.point_mm)}.`,
        ]
      : []),
    ...(uncontrasted ?? []).map(
      ({ where, volume_ml, point_mm }) =>
        `Inside ${markdownText(where)} and not opacified: ${fixed(volume_ml, 1)} mL about ${coordinates(point_mm)}.`,
    ),
  ];
  return lines.length > 0 ? [bullets(lines)] : [];
}

function unsureBlocks({ unsure, unsure_percent: percent }: Proposal): string[] {
  if (unsure.length === 0)
    return [
      'Nowhere by its own signs: no stretch of low contrast, no neighbour, no sharp turn, no wall that differs between directions. That proves nothing.',
    ];
  const rows = unsure.map(({ near, kind, point_mm, length_mm, share_percent }, i) => [
    String(i + 1),
    markdownText(near),
    sentence(UNSURE_WORDS[kind]).slice(0, -1),
    coordinates(point_mm),
    fixed(length_mm, 1),
    fixed(share_percent, 1),
  ]);
  return [
    `${fixed(percent, 1)} % of the area of the surface. The numbers are in the picture of the lesion.`,
    table(['No.', 'At', 'Why', 'Place', 'Length, mm', 'Share, %'], rows, [
      'right',
      'left',
      'left',
      'left',
      'right',
      'right',
    ]),
  ];
}

function confirmBlocks({ confirmed, surface_sha256: hash }: Proposal): string[] {
  const lines = `\`\`\`yaml\n    confirmed_by: NAME\n    confirmed_surface: ${hash}\n\`\`\``;
  return confirmed === 'yes'
    ? [`The confirmation holds for this surface alone (SHA-256 of lesion.stl: ${hash}).`]
    : [
        'Go along each vessel on the source slices, from its end to the sac: is every wall where the slices have it, is nothing in the surface that is no part of the lesion, and is nothing missing? Where not, move or add points and run again, or correct the labels in your own segmentation program and give them as `surfaces.labels`. Where all is right, write under `surfaces.from_scan`:',
        lines,
      ];
}

function stepBlocks({ steps }: Proposal): string[] {
  return steps.length > 0
    ? [bullets(steps.map(({ stage, text }) => `${sentence(stage).slice(0, -1)}: ${clause(text)}`))]
    : ['The steps are not stated.'];
}
