import { addTo } from '../foundation/add-to.js';
import { coordinates, fixed } from '../foundation/number-text.js';
import type { Result } from '../result/result.generated.js';
import { type Closing, cautionsSection, provenanceSection, purposeBanner } from './closing.js';
import type { FigureLink } from './figures/figures.js';
import { bullets, clause, document, markdownText, section, sentence, table } from './markdown.js';
import { assemblyLines, buildRows } from './print-readiness.js';

/** The parts of a result that the document needs. */
export type PrintDocument = Closing & Pick<Result, 'title' | 'findings' | 'print'>;

type Print = NonNullable<Result['print']>;

const CAUTIONS: readonly string[] = [
  'A print shows the segmentation, not the patient: a true print of a wrong segmentation is still wrong.',
  'Do not size a device on a print. It is for looking, for teaching and for rehearsal.',
  'Do not sterilise the print or bring it into a sterile field unless the material, the process and the local protocol allow it.',
  'STL files carry no unit: these are in millimetres. Say so to the printing shop.',
];

const DEVIATION_NOTE =
  'The diameters decide, apart from spans and tag: `pavm proof` gives their bias with its interval, and what it would do to the choice of a device.';

/**
 * Writes print/gauges.md: what is printed and whether it is ready, check points with an empty column for the readings, where each one is,
 * and how to have the readings judged. `figures` are linked under `gauges/`. Throws if the result holds no print.
 */
export function renderPrintGauges(result: PrintDocument, figures: readonly FigureLink[] = []): string {
  const { print } = result;
  if (!print) throw new RangeError('the result contains no print');
  const title = result.title ? markdownText(result.title) : `Case ${markdownText(result.case)}`;
  return document([
    section(1, `Printed model: ${title}`, [
      purposeBanner(result),
      `Printed size over true size: ${trimmed(print.scale ?? 1)}. All lengths in mm, as printed.`,
    ]),
    section(2, 'Check points', checkPoints(print)),
    ...(print.gauges.length > 0 ? [section(2, 'Where to measure', places(print, figures))] : []),
    section(2, 'Have the readings judged', readingsBlock(result.case, print)),
    section(2, 'Ready to print', readiness(print)),
    ...chainSection(print),
    ...assemblySection(print),
    ...changesSection(result, print),
    provenanceSection(result),
    cautionsSection({ cautions: [...CAUTIONS, ...result.cautions] }),
  ]);
}

const trimmed = (value: number): string => String(Number(fixed(value, 4)));

function checkPoints(print: Print): string[] {
  if (print.gauges.length === 0)
    return ['No check point can be reached with a caliper: this print cannot be proved by hand.'];
  const rows = print.gauges.map((g) => [
    g.name,
    `${markdownText(g.what ?? '')}${g.not_to_size ? ' **Thicker than life here.**' : ''}`,
    fixed(g.expected_mm, 2),
    `± ${fixed(g.tolerance_mm, 2)}`,
    ' ',
  ]);
  const sources = new Map<string, string[]>();
  for (const g of print.gauges) {
    const key = `± ${fixed(g.tolerance_mm, 2)} mm: ${markdownText(g.tolerance_source ?? 'no source')}`;
    addTo(sources, key, g.name);
  }
  return [
    'Caliper readings of the finished print, supports removed, at room temperature. Rest the jaws; do not squeeze.',
    table(['Point', 'What', 'Expected (mm)', 'Tolerance (mm)', 'Reading (mm)'], rows, [
      'left',
      'left',
      'right',
      'right',
      'right',
    ]),
    bullets([
      ...[...sources].map(([text, names]) => `Tolerance ${text} (${names.join(', ')}).`),
      DEVIATION_NOTE,
    ]),
    ...neededLines(print),
    ...handednessLines(print),
  ];
}

/** A caliper cannot detect a mirrored print; three landmarks can. */
function handednessLines({ handedness }: Print): string[] {
  if (!handedness) return [];
  const [a, b, c] = handedness.landmarks.map(({ what }) => markdownText(what));
  return [
    `A caliper cannot see a mirrored print. Hold the print so that the raised letters of its tag face you, head mark up (S, or the first line). Trace with a finger from ${a} to ${b} and on to ${c}: on a true print this turns **${handedness.turn}**. Write what you see as \`handedness\`. Where the letters are mirror-written, the print is mirrored.`,
  ];
}

/** How many readings are needed, so that the rounds can be planned before measuring. */
function neededLines({ readings_needed: needed }: Print): string[] {
  if (!needed) return [];
  const { diameters, least, each, tolerance_mm: tolerance } = needed;
  const plan =
    least === undefined || each === undefined
      ? 'No diameter can be read: the print cannot be proved by caliper.'
      : `To prove a true print, ${least} readings of diameters are needed (tolerance ± ${fixed(tolerance!, 2)} mm). There are ${diameters} ${diameters === 1 ? 'diameter' : 'diameters'}: read each ${each === 1 ? 'once' : `${each} times`}. Two readers with two rounds each also show how well the readings repeat.`;
  return [
    plan,
    table(
      ['Smallest bias to detect (mm)', 'Readings of diameters'],
      needed.to_tell.map((row) => [fixed(row.bias_mm, 2), String(row.readings)]),
      ['right', 'right'],
    ),
    `With a standard deviation of ${fixed(needed.reading_sd_mm, 2)} mm for one reading (common practice, no source), 98 of 100 times.`,
  ];
}

function places(print: Print, figures: readonly FigureLink[]): string[] {
  const at = (p: readonly number[] | undefined): string => (p ? coordinates(p) : '');
  const rows = print.gauges.map((g) => [
    g.name,
    at(g.print_mm),
    at(g.print_to_mm),
    at(g.point_mm),
    at(g.to_mm),
  ]);
  return [
    'The first point of a diameter is the middle of the vessel; of all others, one point of contact. Coordinates x, y, z in mm.',
    table(['Point', 'In the print', 'to', 'In the case', 'to'], rows),
    ...figures.map((f) => `![${markdownText(f.alt)}](gauges/${f.name})`),
  ];
}

function readingsBlock(caseId: string, print: Print): string[] {
  const first = print.gauges
    .slice(0, 3)
    .map((g) => `  - { name: ${g.name}, reader: A, round: 1, value: "${fixed(g.expected_mm, 1)} mm" }`);
  const { name = '', expected_mm = 0 } = print.gauges[0] ?? {};
  const again = `  - { name: ${name}, reader: A, round: 2, value: "${fixed(expected_mm, 1)} mm" }`;
  if (first.length === 0) return ['Without check points there is nothing to judge.'];
  return [
    'Write the readings, each with its unit, into a file (the values below only show the form; repeated readings of a point carry reader and round):',
    [
      '```yaml',
      'format: pavm-readings/1',
      ...(print.model_id === undefined ? [] : [`model: "${print.model_id}"`]),
      'instrument: digital caliper, 0.01 mm',
      ...(print.handedness ? ['# handedness: clockwise   (or anticlockwise, as you see it)'] : []),
      'readings:',
      ...first,
      again,
      '```',
    ].join('\n'),
    `Then run: \`pavm proof ${caseId.replace(/[^a-z0-9-]/g, '')} --readings readings.yaml\`, with the path of the case in place of its name.`,
  ];
}

function readiness(print: Print): string[] {
  const out: string[] = [];
  const facts: string[][] = [];
  if (print.size_mm)
    facts.push([
      'Box of the fused model with its tag',
      `${print.size_mm.map((s) => fixed(s, 1)).join(' x ')} mm`,
    ]);
  facts.push(['Process', print.process ?? 'not stated in the case']);
  facts.push([
    'Form',
    print.hollow ? `hollow, wall ${fixed(print.wall_mm ?? 0, 2)} mm outside the lumen` : 'solid',
  ]);
  if (print.mass_g !== undefined)
    facts.push([
      'Mass of the fused model',
      `${fixed(print.mass_g, 1)} g, if solid, with an assumed density of ${fixed(print.density_g_cm3!, 2)} g/cm³; supports aside`,
    ]);
  if (print.origin_mm) facts.push(['Origin of the print in the case', `${coordinates(print.origin_mm)} mm`]);
  if (print.model_id !== undefined)
    facts.push(['Number of the model, on the tag and in every readings file', print.model_id]);
  if (print.tag_lines) facts.push(['Tag', print.tag_lines.map((l) => markdownText(l)).join(' / ')]);
  if (print.limits) {
    const l = print.limits;
    facts.push([
      'Limits of the process (common practice, no source)',
      `wall ${fixed(l.wall_mm, 2)}, pin ${fixed(l.pin_mm, 2)}, hole ${fixed(l.hole_mm, 2)}, gap ${fixed(l.gap_mm, 2)}, tolerance ± ${fixed(l.tolerance_mm, 2)} mm`,
    ]);
  }
  facts.push(...buildRows(print));
  out.push(table(['What', 'Value'], facts));
  if (print.parts.length > 0)
    out.push(
      table(
        ['File', 'Holds', 'Watertight', 'Volume (mL)', 'Thinnest wall (mm)', 'Triangles'],
        print.parts.map((p) => [
          markdownText(p.file ?? ''),
          markdownText(
            p.role === 'model'
              ? 'fused model with tag'
              : `${p.name}${p.role && p.role !== p.name ? ` (${p.role})` : ''}`,
          ),
          p.watertight ? 'yes' : '**NO**',
          fixed(p.volume_ml, 3),
          p.min_wall_mm === undefined ? 'not measured' : fixed(p.min_wall_mm, 2),
          String(p.triangles),
        ]),
        ['left', 'left', 'left', 'right', 'right', 'right'],
      ),
      'Thinnest wall by rays through the body, tag and sharp edges aside. Single structures meet face to face where the fused model is cut apart, so their rims run out thin; so do halves where the cut is oblique.',
    );
  const thin = print.parts
    .filter((p) => ['model', 'airway', 'heart', 'chest-wall'].includes(p.role ?? ''))
    .flatMap((p) => (p.thin ?? []).map((t) => ({ ...t, name: p.name })));
  out.push(
    thin.length === 0
      ? print.limits
        ? 'No region of the fused model or of a structure beside it is thinner than the process prints.'
        : 'Thin regions were not looked for: the case names no process.'
      : table(
          ['Thin region', 'In the print', 'In the case', 'Thickness (mm)', 'Area (mm²)'],
          thin.map((t) => [
            markdownText(t.name),
            coordinates(t.print_mm),
            coordinates(t.point_mm),
            fixed(t.thickness_mm, 2),
            fixed(t.area_mm2, 1),
          ]),
          ['left', 'left', 'left', 'right', 'right'],
        ),
  );
  if (print.accuracy && print.accuracy.length > 0)
    out.push(bullets(print.accuracy.map((a) => `${clause(a.text)} Source: ${clause(a.source)}`)));
  return out;
}

/** How wrong a print that agrees with its model can still be. */
function chainSection({ error_chain: chain }: Print): string[] {
  if (!chain || chain.length === 0) return [];
  const signed = (mm: number): string => fixed(mm, 2);
  return [
    section(2, 'What a true print can still be wrong by', [
      table(
        [
          'Landing zone',
          'Scan (mm)',
          'Segmentation (mm)',
          'Thickening (mm)',
          'Simplification (mm)',
          'Process (mm)',
          'In all (± mm)',
        ],
        chain.map((c) => [
          markdownText(c.vessel),
          c.scan_mm === undefined ? 'not known' : fixed(c.scan_mm, 2),
          `${fixed(c.segmentation_mm, 2)} ${c.segmentation_from}`,
          signed(c.thickening_mm),
          signed(c.simplification_mm),
          fixed(c.process_mm, 2),
          `**${fixed(c.total_mm, 2)}**`,
        ]),
        ['left', 'right', 'right', 'right', 'right', 'right', 'right'],
      ),
      'Of the calibre at the landing zone, true size. Scan, segmentation and process are standard deviations: their squares are summed, and 1.96 times the root is taken; thickening and simplification are known shifts and are added (JCGM 100:2008, from memory). A published segmentation error is that of other lesions, and an unknown scan error is missing from the sum.',
    ]),
  ];
}

function assemblySection(print: Print): string[] {
  const lines = assemblyLines(print);
  return lines.length > 0 ? [section(2, 'Halves and rods', [bullets(lines)])] : [];
}

function changesSection(result: PrintDocument, print: Print): string[] {
  const lines = result.findings
    .filter((f) => f.id.startsWith('print-'))
    .map((f) => `**${f.level.toUpperCase()}** ${markdownText(f.where)}: ${sentence(f.text)}`);
  for (const t of print.thickened ?? [])
    lines.push(
      `${markdownText(t.name)}, ${fixed(t.from_mm, 1)} to ${fixed(t.to_mm, 1)} mm from its far end (true lengths): printed ${fixed(t.printed_mm, 2)} mm thick; the vessel is ${fixed(t.narrowest_mm, 2)} mm at its thinnest there.`,
    );
  return [
    section(2, 'What was changed for printing', [
      lines.length > 0 ? bullets(lines) : 'Nothing was repaired, removed or thickened.',
    ]),
  ];
}
