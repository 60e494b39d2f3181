/** The blocks that close every document: cautions and provenance. */
import { STANDING_CAUTIONS } from '../result/cautions.js';
import type { Result } from '../result/result.generated.js';
import { asWritten, fixed } from '../foundation/number-text.js';
import { NOT_CONFIRMED } from '../result/proposal.js';
import { bullets, clause, markdownText, section, sentence } from './markdown.js';

/** The parts of a result that the closing blocks need. */
export type Closing = Pick<
  Result,
  'case' | 'purpose' | 'scan_date' | 'scan' | 'frame' | 'proposal' | 'today' | 'tool' | 'inputs' | 'cautions'
>;

const PURPOSE: Record<Result['purpose'], string> = {
  clinical: 'clinical planning',
  teaching: 'teaching; not for the care of a patient',
  demo: 'demonstration with invented data; not for the care of a patient',
};

const TODAY_FROM: Record<Result['today']['from'], string> = {
  option: 'given by whoever ran the plan',
  shelf: 'date of the shelf file',
  scan: 'the scan date, since nothing later was given',
  unknown: 'no date was given, so nothing can be dated',
};

/** `2026-03-20 (date of the shelf file)`, or a statement that there is no date. */
export function todayText(result: Pick<Closing, 'today'>): string {
  const { date, from } = result.today;
  return date === undefined ? TODAY_FROM.unknown : `${markdownText(date)} (${TODAY_FROM[from]})`;
}

/** One line for a teaching or demo case; undefined for clinical use. */
export function purposeBanner(result: Pick<Closing, 'purpose'>): string | undefined {
  return result.purpose === 'clinical' ? undefined : `**Purpose: ${PURPOSE[result.purpose]}.**`;
}

/** Provenance: inputs with SHA-256, program and rules; also case, dates and 'today', unless the heading has them. */
export function provenanceSection(result: Closing, isHeaded = false): string {
  const scan = result.scan_date === undefined ? 'date not stated' : markdownText(result.scan_date);
  const facts = [
    ...(isHeaded
      ? []
      : [
          `Case ${markdownText(result.case)}; ${PURPOSE[result.purpose]}; CT: ${scan}; today: ${todayText(result)}.`,
        ]),
    `${markdownText(result.tool.name)} ${markdownText(result.tool.version)}, rule set ${markdownText(result.tool.rule_set)}.`,
    ...(result.scan?.slices === undefined ? [] : [seriesText(result.scan)]),
    ...frameText(result.frame),
    ...(result.proposal ? [proposalText(result.proposal)] : []),
    ...(result.tool.local_rules ?? []).map(
      ({ file, rules }) =>
        `Local rules of ${markdownText(file)}: ${rules.length > 0 ? rules.map(markdownText).join(', ') : 'none'}.`,
    ),
  ];
  const inputs = result.inputs.map(
    (input) => `${markdownText(input.path)}, ${Math.round(input.bytes)}, ${markdownText(input.sha256)}`,
  );
  return section(2, 'Provenance', [
    bullets(facts),
    inputs.length > 0
      ? `Inputs, bytes, SHA-256:\n\n${bullets(inputs)}`
      : 'The result names no input file, so this document cannot be traced back to its data.',
  ]);
}

/** The facts stated in the headers of the CT series. */
function seriesText(scan: NonNullable<Closing['scan']>): string {
  const thickness = scan.thickness_mm === undefined ? [] : [scan.thickness_mm].flat();
  const parts = [
    `${scan.slices} slices`,
    scan.plane,
    thickness.length > 0 ? `${thickness.map((t) => asWritten(t, 2)).join(', ')} mm thick` : undefined,
    scan.spacing_mm && `voxels of ${scan.spacing_mm.map((s) => asWritten(s, 3)).join(' x ')} mm`,
    scan.patient_position && `patient position ${markdownText(scan.patient_position)}`,
    scan.kernel && `kernel ${markdownText(scan.kernel)}`,
    scan.tube_voltage_kv === undefined ? undefined : `${asWritten(scan.tube_voltage_kv, 0)} kV`,
    `contrast agent ${scan.contrast === 'unknown' ? 'not stated' : scan.contrast}`,
  ];
  return `CT series: ${parts.filter((part) => part !== undefined).join(', ')}.`;
}

/** Whether the surfaces match the scan. */
function frameText(frame: Closing['frame']): string[] {
  if (frame?.verdict === 'fits' && frame.shift_mm) {
    const shift = Math.hypot(...frame.shift_mm);
    return [`The surfaces lie where the scan shows their wall, within ${fixed(Math.max(shift, 0.1), 1)} mm.`];
  }
  return frame && frame.verdict !== 'unchecked'
    ? ['The surfaces do not lie where the scan shows their wall: see the findings.']
    : [];
}

/** Where the surface comes from, and who confirmed it. */
function proposalText(proposal: NonNullable<Closing['proposal']>): string {
  const { confirmed, confirmed_by: by, surface_sha256: hash, unsure_percent: unsure } = proposal;
  const stands =
    confirmed === 'yes'
      ? `confirmed by ${markdownText(by ?? 'a reader')}`
      : `**${NOT_CONFIRMED}**: ${clause(proposal.not_confirmed_because ?? 'the result gives no reason').replace(/\.$/, '')}`;
  return `The surface was made from the scan, ${stands}; unsure on ${fixed(unsure, 1)} % of its area (surfaces/report.md); SHA-256 ${markdownText(hash)}.`;
}

/** The standing cautions and those of the result, each once. */
export function cautionsSection(result: Pick<Closing, 'cautions'>): string {
  const own = result.cautions.filter((text) => !STANDING_CAUTIONS.includes(text));
  return section(2, 'Cautions', [bullets([...STANDING_CAUTIONS, ...new Set(own)].map(sentence))]);
}
