/** Shunt and virtual closure of plan.md. */
import { fixed, rangeText } from '../foundation/number-text.js';
import { headlineShunt } from '../result/headline.js';
import type { Closure, Result, Shunt } from '../result/result.generated.js';
import type { Citations } from './citations.js';
import { bullets, clause, markdownText, section, sentence, table } from './markdown.js';
import {
  closedText,
  compareNames,
  type Interval,
  KINDS,
  type Kind,
  noFeederText,
  percent,
  percentInterval,
  quantity,
  shuntEstimate,
} from './words.js';

const METHOD: Record<Shunt['method'], string> = {
  content: 'full oxygen contents on 100 % oxygen (Berggren equation)',
  dissolved: 'dissolved oxygen only, on 100 % oxygen (short form)',
  'room-air': 'full oxygen contents from a sample that was not taken on 100 % oxygen; less certain',
};

/** The shunt that the plan rests on, each step with its numbers, then that of the other visit where there is one. */
export function shuntSection(result: Result, cite: Citations): string {
  const isAfter = result.baseline === 'after';
  const headline = headlineShunt(result);
  const other = isAfter ? result.shunt : result.shunt_after;
  const first = headline
    ? shuntBlocks(headline, cite)
    : ['Not computed: the result holds no arterial sample that a shunt can be computed from; see Findings.'];
  return section(2, isAfter ? 'Shunt after treatment' : 'Shunt', [
    isAfter ? 'Closure, devices and advice rest on the shunt after the treatment.' : undefined,
    ...first,
    ...(other
      ? [section(3, isAfter ? 'Shunt before treatment' : 'Shunt after treatment', shuntBlocks(other, cite))]
      : []),
  ]);
}

function shuntBlocks(shunt: Shunt, cite: Citations): (string | undefined)[] {
  const sample = shunt.sample ? ` Sample: ${markdownText(shunt.sample)}.` : '';
  const head =
    shunt.fraction !== undefined
      ? `**Qs/Qt${shunt.upper_limit === undefined ? ' =' : ''} ${shuntEstimate(shunt)} of cardiac output.** Method: ${METHOD[shunt.method]}.${sample}`
      : `**Not computed.** ${sentence(shunt.absent_because ?? 'The result gives no reason')} Method asked for: ${METHOD[shunt.method]}.${sample}`;
  const steps = shuntSteps(shunt);
  const beside = besideLines(shunt);
  return [
    head,
    steps.length > 0 ? `${steps.join('; ')}.` : undefined,
    beside.length > 0 ? beside.join(' ') : undefined,
    shunt.assumed.length > 0 || shunt.fraction === undefined
      ? undefined
      : 'Nothing was assumed for this shunt.',
    sensitivityText(shunt, cite),
  ];
}

/** Whether a listed assumption speaks of the subject; decides only which mark a number carries. */
const assumes = (shunt: Shunt, subject: RegExp): boolean => shunt.assumed.some((text) => subject.test(text));

/** By the basis that the result names; without one, assumed where the result lists it so or shows other values for it. */
function differenceKind(shunt: Shunt): Kind {
  if (shunt.av_difference_basis === 'mixed-venous') return 'measured';
  if (shunt.av_difference_basis === 'fick') return 'derived';
  const listed = shunt.assumed.filter((text) => /arterio-?\s?venous|a-v |av difference/i.test(text));
  if (listed.length > 0) return listed.some((text) => text.endsWith('as given')) ? 'stated' : 'assumed';
  return (shunt.sensitivity?.length ?? 0) > 0 ? 'assumed' : 'measured';
}

function shuntSteps(shunt: Shunt): string[] {
  const steps: string[] = [];
  const add = (value: number | undefined, write: (value: number) => string): void => {
    if (value !== undefined) steps.push(write(value));
  };
  const difference = differenceKind(shunt);
  const barometric: Kind = assumes(shunt, /barometric|altitude|atmosphere|sea level/i)
    ? 'assumed'
    : 'measured';
  const saturation: Kind = assumes(shunt, /arterial saturation|saturation from/i) ? 'derived' : 'measured';
  add(shunt.barometric_mmhg, (v) => `Barometric pressure PB: ${quantity(v, 0, 'mmHg', barometric)}`);
  add(shunt.alveolar_po2_mmhg, (v) => `Alveolar PAO2: ${quantity(v, 0, 'mmHg', 'derived')}`);
  add(shunt.arterial_saturation_percent, (v) => `Arterial SaO2 used: ${quantity(v, 1, '%', saturation)}`);
  add(
    shunt.end_capillary_content_ml_dl,
    (v) => `End-capillary content Cc′O2: ${quantity(v, 2, 'mL/dL', 'derived')}`,
  );
  add(shunt.arterial_content_ml_dl, (v) => `Arterial content CaO2: ${quantity(v, 2, 'mL/dL', 'derived')}`);
  add(
    shunt.av_difference_ml_dl,
    (v) => `Arterio-venous difference CaO2 − CvO2: ${quantity(v, 2, 'mL/dL', difference)}`,
  );
  add(shunt.venous_content_ml_dl, (v) => {
    const from = difference === 'measured' ? '' : `, from the ${difference} difference`;
    return `Mixed venous content CvO2${from}: ${quantity(v, 2, 'mL/dL', 'derived')}`;
  });
  const [cc, ca, cv] = [
    shunt.end_capillary_content_ml_dl,
    shunt.arterial_content_ml_dl,
    shunt.venous_content_ml_dl,
  ];
  if (
    shunt.fraction !== undefined &&
    shunt.method !== 'dissolved' &&
    cc !== undefined &&
    ca !== undefined &&
    cv !== undefined
  ) {
    const top = `${fixed(cc, 2)} − ${fixed(ca, 2)}`;
    const bottom = `${fixed(cc, 2)} − ${fixed(cv, 2)}`;
    steps.push(
      `Qs/Qt = (Cc′O2 − CaO2) / (Cc′O2 − CvO2) = (${top}) / (${bottom}) mL/dL = ${quantity(percent(shunt.equation_fraction ?? shunt.fraction), 1, '%', 'derived')}, computed before rounding`,
    );
  }
  return steps;
}

function besideLines(shunt: Shunt): string[] {
  const lines: string[] = [];
  const short = shunt.dissolved_only;
  if (short?.fraction !== undefined) {
    lines.push(
      `Beside it, dissolved oxygen only (short form): ${quantity(percent(short.fraction), 1, '%', 'derived')}.`,
    );
  } else if (short) {
    lines.push(
      `Dissolved oxygen only (short form): refused. ${sentence(short.refused_because ?? 'The result gives no reason')}`,
    );
  } else if (shunt.method !== 'dissolved' && shunt.fraction !== undefined) {
    lines.push('Dissolved oxygen only (short form): not in the result for this sample.');
  }
  if (shunt.other_saturation) {
    lines.push(
      `With the other arterial saturation (${markdownText(shunt.other_saturation.basis)}): ${quantity(percent(shunt.other_saturation.fraction), 1, '%', 'derived')}.`,
    );
  }
  return lines;
}

function sensitivityText(shunt: Shunt, cite: Citations): string | undefined {
  if (!shunt.sensitivity?.length) return undefined;
  const rows = shunt.sensitivity.map((row) => {
    const from = row.source ? ` ${cite.mark(row.source)}` : '';
    return `${quantity(row.av_difference_ml_dl, 1, 'mL/dL', 'assumed')}${from} gives ${quantity(percent(row.fraction), 1, '%', 'derived')}${row.interval ? ` (${rangeText(percentInterval(row.interval)!, 1, '%')})` : ''}`;
  });
  return `The same sample under another arterio-venous difference: ${rows.join('; ')}.`;
}

/** The virtual closure, step by step, with which numbers are bounds. */
export function closureSection(result: Result): string {
  if (result.closure.length === 0) {
    return section(2, 'Virtual closure', [`Not computed. ${whyNoClosure(result)}`]);
  }
  const reasons = closureGaps(result.closure);
  if (result.closure.every((step) => step.shunt_fraction === undefined)) {
    return section(2, 'Virtual closure', [
      'Not computed for any closure.',
      reasons.length > 0 ? bullets(reasons) : whyNoClosure(result),
    ]);
  }
  const rows = result.closure.map(closureRow);
  return section(2, 'Virtual closure', [
    table(
      [
        'Closed',
        'Qs/Qt, %',
        'SaO2 on air, %',
        'SaO2 on oxygen, %',
        'Mean PA, mmHg, at most',
        'Output, L/min, at least',
      ],
      rows,
    ),
    'All derived (d); 95 % interval in brackets. Pressure: upper bound (output unchanged, no recruitment of the normal bed). Output: lower bound (driving pressure unchanged). Not forecasts.',
    result.closure.some((step) => step.shunt_fraction_is === 'at-least')
      ? '≥ before a shunt and ≤ before a saturation: other lesions may carry part of the measured shunt, so this is the best that closing here can do; the interval reaches to a lesion that carries none of it.'
      : undefined,
    remainingText(result.closure),
    reasons.length > 0 ? bullets(reasons) : undefined,
  ]);
}

/** Why steps were not computed, each reason once with the steps it concerns. */
function closureGaps(closure: readonly Closure[]): string[] {
  const steps = new Map<string, string[]>();
  for (const { closed, absent_because: why } of closure) {
    if (why !== undefined) steps.set(why, [...(steps.get(why) ?? []), closedText(closed)]);
  }
  return [...steps].map(([why, names]) => `${names.join('; ')}: ${clause(why)}`);
}

function closureRow(step: Closure): string[] {
  const { intervals } = step;
  const occlusion =
    step.occlusion_percent !== undefined && step.occlusion_percent !== 100
      ? `, ${quantity(step.occlusion_percent, 0, '%', 'assumed')} of the lumen`
      : '';
  const least = (mark: string, text: string): string =>
    step.shunt_fraction_is === 'at-least' ? `${mark}${text}` : text;
  const shunt = step.shunt_fraction === undefined ? undefined : percent(step.shunt_fraction);
  const cell = (value: number | undefined, interval: Interval | undefined): string =>
    value === undefined
      ? 'not computed'
      : `${fixed(value, 1)}${interval ? ` (${plainRange(interval)})` : ''}`;
  return [
    `**${closedText(step.closed)}**${occlusion}`,
    least('≥ ', cell(shunt, percentInterval(intervals?.shunt_fraction))),
    least('≤ ', cell(step.so2_room_air_percent, intervals?.so2_room_air_percent)),
    least('≤ ', cell(step.so2_on_oxygen_percent, intervals?.so2_on_oxygen_percent)),
    cell(step.mean_pa_pressure_mmhg, intervals?.mean_pa_pressure_mmhg),
    cell(step.cardiac_output_l_min, intervals?.cardiac_output_l_min),
  ];
}

const plainRange = ([low, high]: Interval): string => `${fixed(low, 1)} to ${fixed(high, 1)}`;

/** Flow through what stays open, one line for each closure; shares of the shunt once where no closure changes them. */
function remainingText(closure: readonly Closure[]): string | undefined {
  const shares = new Map<string, Set<string>>();
  const rows = closure.flatMap((step) => {
    const open = Object.entries(step.remaining ?? {}).sort(([a], [b]) => compareNames(a, b));
    for (const [name, { share, share_range: range }] of open) {
      if (share === undefined) continue;
      const text = `${step.shunt_fraction_is === 'at-least' ? 'at most ' : ''}${fixed(percent(share), 0)} %${range ? ` (${rangeText(percentInterval(range)!, 0, '%')})` : ''} ${KINDS.derived.mark}`;
      shares.set(name, (shares.get(name) ?? new Set()).add(text));
    }
    return open.length === 0 ? [] : [{ closed: closedText(step.closed), open }];
  });
  if (rows.length === 0) return undefined;
  const isSame = [...shares.values()].every((texts) => texts.size === 1);
  const lines = rows.map(({ closed, open }) => {
    const flows = open.map(([name, { flow_l_min: flow, share }]) => {
      const part = isSame || share === undefined ? '' : ` (${fixed(percent(share), 0)} %)`;
      return `${markdownText(name)} ${fixed(flow, 2)}${part}`;
    });
    return `${closed} closed: ${flows.join(', ')}`;
  });
  const once = isSame
    ? [...shares].map(([name, texts]) => `${markdownText(name)} ${[...texts].join('')}`)
    : [];
  return [
    once.length > 0
      ? `Share of the shunt (range: the laws of flow with calibre that were tried): ${once.join(', ')}.`
      : undefined,
    `Flow that remains, L/min ${KINDS.derived.mark}:\n\n${bullets(lines)}`,
  ]
    .filter((part) => part !== undefined)
    .join('\n\n');
}

function whyNoClosure(result: Result): string {
  if (result.lesion.feeders_absent_because) return nothingToClose(result);
  const about = result.findings.filter(
    (finding) => /closure|flow/i.test(finding.id) || /^(closure|circulation)/i.test(finding.where),
  );
  if (about.length > 0) return about.map((finding) => sentence(finding.text)).join(' ');
  const shunt = headlineShunt(result);
  if (shunt?.absent_because) return `It needs the shunt. ${sentence(shunt.absent_because)}`;
  if (!shunt) return 'It needs the shunt, and there is none in the result; see Findings.';
  const feeders = Object.values(result.vessels).filter((vessel) => vessel.role === 'feeder');
  return feeders.length === 0 ? nothingToClose(result) : 'The result gives no reason.';
}

const nothingToClose = (result: Result): string =>
  sentence(`${noFeederText(result)}, so there is nothing to close`);
