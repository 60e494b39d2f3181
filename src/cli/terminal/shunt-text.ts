import { fixed, rangeText } from '../../foundation/number-text.js';
import type { ShuntOutcome } from '../../physiology/compute-shunt.js';
import { mmHgAndKPa, percent } from '../../physiology/gas-plausibility.js';
import type { ShuntChange } from '../../physiology/shunt-change.js';
import { CONSTANTS } from '../../reference/constants.js';
import { type Rules, ruleNumber } from '../../rules/rule.js';
import { sourceText } from '../../rules/source-text.js';

const METHODS = {
  content: 'full oxygen contents on 100 % oxygen',
  dissolved: 'dissolved oxygen alone, on 100 % oxygen',
  'room-air': 'oxygen contents below 100 % oxygen, an estimate',
} as const;

function cautions(rules: Pick<Rules, 'byId'>): string[] {
  const normal = ruleNumber(rules, 'normal-shunt');
  return [
    `Normal is up to ${normal.value} ${normal.unit}: ${sourceText(normal.source)}. A shunt does not distinguish a PAVM from an atrial septal defect.`,
    'A number for a clinician to judge: local protocol and the sample itself come first.',
  ];
}

/** One shunt as text: the number first, then every step, the assumptions, other answers, cautions. */
export function shuntText(title: string, outcome: ShuntOutcome, rules: Pick<Rules, 'byId'>): string {
  const { shunt } = outcome;
  if (!shunt) return `${title}: not computed. There is no arterial blood gas.\n`;
  const lines: string[] = [];
  if (shunt.fraction === undefined) {
    lines.push(`${title}: not computed`, `  because  ${shunt.absent_because}`);
  } else {
    const interval = shunt.interval?.map((v) => 100 * v) as [number, number];
    lines.push(
      shunt.upper_limit === undefined
        ? `${title}: ${percent(shunt.fraction)} of cardiac output (95 % interval ${rangeText(interval, 1, '%')})`
        : `${title}: cannot be told from none; at most ${percent(shunt.upper_limit)} of cardiac output (95 %)`,
      `  method   ${shunt.method}: ${METHODS[shunt.method]}`,
    );
  }
  lines.push(...stepLines(outcome), ...otherLines(outcome));
  if (shunt.assumed.length > 0) lines.push('', 'Assumed', ...shunt.assumed.map((text) => `  - ${text}`));
  if (shunt.fraction !== undefined)
    lines.push('', 'Cautions', ...cautions(rules).map((text) => `  - ${text}`));
  return `${lines.join('\n')}\n`;
}

function stepLines({ shunt, working, resolved }: ShuntOutcome): string[] {
  if (!shunt || !working || !resolved) return [];
  const n = resolved.numbers;
  const vapour = fixed(working.waterVapourMmHg, 1);
  const alveolar =
    n.fio2 === 1
      ? `PB - PH2O - PaCO2 = ${fixed(n.barometricMmHg, 1)} - ${vapour} - ${fixed(n.pco2MmHg, 1)}`
      : `FiO2 (PB - PH2O) - PaCO2 (FiO2 + (1 - FiO2)/R) = ${fixed(n.fio2, 2)} x (${fixed(n.barometricMmHg, 1)} - ${vapour}) - ${fixed(n.pco2MmHg, 1)} x (${fixed(n.fio2, 2)} + ${fixed(1 - n.fio2, 2)}/${fixed(n.respiratoryQuotient, 2)})`;
  const lines = ['', 'Steps', `  PAO2   = ${alveolar} = ${mmHgAndKPa(working.alveolarPo2MmHg)}`];
  if (n.haemoglobinGDl === undefined || working.arterialContentMlDl === undefined) {
    const k = CONSTANTS.oxygenDissolvesMlPerDlMmHg.value;
    const lost = `${k} x (${fixed(working.alveolarPo2MmHg, 1)} - ${fixed(n.po2MmHg, 1)})`;
    lines.push(
      `  Qs/Qt  = ${lost} / (${lost} + ${fixed(working.avDifferenceMlDl, 2)}) = ${percent(working.fraction)}`,
    );
    return lines;
  }
  const content = (s: number, p: number) =>
    `${CONSTANTS.haemoglobinBindsMlPerG.value} x ${fixed(n.haemoglobinGDl as number, 1)} x ${fixed(s, 4)} + ${CONSTANTS.oxygenDissolvesMlPerDlMmHg.value} x ${fixed(p, 1)}`;
  const end = working.endCapillaryContentMlDl as number;
  const venous = working.venousContentMlDl as number;
  lines.push(
    `  Cc'O2  = ${content(working.endCapillarySaturation, working.alveolarPo2MmHg)} = ${fixed(end, 2)} mL/dL`,
    `  CaO2   = ${content(working.arterialSaturation, n.po2MmHg)} = ${fixed(working.arterialContentMlDl, 2)} mL/dL`,
    n.venous
      ? `  CvO2   = ${content(n.venous.so2Fraction, n.venous.po2MmHg)} = ${fixed(venous, 2)} mL/dL`
      : `  CvO2   = CaO2 - ${fixed(n.avDifferenceMlDl, 2)} = ${fixed(venous, 2)} mL/dL`,
    `  Qs/Qt  = (Cc'O2 - CaO2) / (Cc'O2 - CvO2) = ${fixed(end - working.arterialContentMlDl, 2)} / ${fixed(end - venous, 2)} = ${percent(working.fraction)}`,
  );
  return lines;
}

function otherLines({ shunt }: ShuntOutcome): string[] {
  if (!shunt) return [];
  const lines: string[] = [];
  if (shunt.other_saturation) {
    lines.push(
      `  ${percent(shunt.other_saturation.fraction)} with the other arterial saturation, ${shunt.other_saturation.basis}`,
    );
  }
  if (shunt.dissolved_only && shunt.method !== 'dissolved') {
    const { fraction, refused_because } = shunt.dissolved_only;
    lines.push(
      fraction === undefined
        ? `  dissolved-only form refused: ${refused_because}`
        : `  ${percent(fraction)} by the dissolved-only form`,
    );
  }
  for (const row of shunt.sensitivity ?? []) {
    lines.push(
      `  ${percent(row.fraction)} with an arterio-venous difference of ${fixed(row.av_difference_ml_dl, 1)} mL/dL (${row.source})`,
    );
  }
  return lines.length > 0 ? ['', 'For comparison', ...lines] : [];
}

/** One line on the change from before to after. */
export function changeLine(change: ShuntChange): string {
  const points = (value: number) => 100 * value;
  const interval = rangeText([points(change.interval[0]), points(change.interval[1])], 1, 'points');
  const reading = change.isClear ? 'a clear change' : 'within the error of the measurement';
  return `Change after treatment: ${fixed(points(change.change), 1)} points (95 % interval ${interval}): ${reading}.\n`;
}
