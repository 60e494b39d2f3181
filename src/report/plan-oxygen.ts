/** Shunt and virtual closure of plan.md. */
import { addTo } from '../foundation/add-to.js';
import { fixed, pointText, rangeText } from '../foundation/number-text.js';
import { headlineShunt } from '../result/headline.js';
import type { Closure, Result, Shunt } from '../result/result.generated.js';
import type { Citations } from './citations.js';
import { bullets, clause, markdownText, section, sentence, table } from './markdown.js';
import {
  closedText,
  compareNames,
  type Interval,
  type Kind,
  noFeederText,
  percent,
  percentInterval,
  quantity,
  shuntEstimate,
} from './words.js';

const METHOD: Record<Shunt['method'], string> = {
  content: 'full oxygen contents on 100 % oxygen',
  dissolved: 'dissolved oxygen only, on 100 % oxygen',
  'room-air': 'full oxygen contents, not on 100 % oxygen; less certain',
};

/** The shunt that the plan depends on, each step with its numbers, then that of the other visit, if any. */
export function shuntSection(result: Result, cite: Citations): string {
  const isAfter = result.baseline === 'after';
  const headline = headlineShunt(result);
  const other = isAfter ? result.shunt : result.shunt_after;
  const first = headline
    ? shuntBlocks(headline, cite)
    : [
        'Not computed: the result contains no arterial sample that a shunt can be computed from; see Findings.',
      ];
  return section(2, isAfter ? 'Shunt after treatment' : 'Shunt', [
    isAfter ? 'Closure, devices and advice depend on it.' : undefined,
    ...first,
    ...(other
      ? [
          section(
            3,
            isAfter ? 'Shunt before treatment' : 'Shunt after treatment',
            shuntBlocks(other, cite, headline?.method),
          ),
        ]
      : []),
  ]);
}

function shuntBlocks(shunt: Shunt, cite: Citations, above?: Shunt['method']): (string | undefined)[] {
  const sample = shunt.sample ? ` Sample: ${markdownText(shunt.sample)}.` : '';
  const head =
    shunt.fraction !== undefined
      ? `**Qs/Qt${shunt.upper_limit === undefined ? ' =' : ''} ${shuntEstimate(shunt)} of cardiac output.** Method: ${shunt.method === above ? 'as above' : METHOD[shunt.method]}.${sample}`
      : `**Not computed.** ${sentence(shunt.absent_because ?? 'The result gives no reason')} Method asked for: ${METHOD[shunt.method]}.${sample}`;
  const steps = shuntSteps(shunt);
  const beside = besideLines(shunt);
  return [
    head,
    steps.length > 0 ? steps.join(' ') : undefined,
    beside.length > 0 ? beside.join(' ') : undefined,
    shunt.assumed.length > 0 || shunt.fraction === undefined
      ? undefined
      : 'Nothing was assumed for this shunt.',
    sensitivityText(shunt, cite),
  ];
}

/** The steps of the equation with their numbers; the fraction is in the line above. */
function shuntSteps(shunt: Shunt): string[] {
  const { origins = {} } = shunt;
  const join = (parts: (string | undefined)[]): string =>
    parts.filter((part) => part !== undefined).join(', ');
  const part = (
    name: string,
    value: number | undefined,
    digits: number,
    unit: string,
    kind: Kind = 'derived',
  ) => (value === undefined ? undefined : `${name} ${quantity(value, digits, unit, kind)}`);
  const [cc, ca, cv] = [
    shunt.end_capillary_content_ml_dl,
    shunt.arterial_content_ml_dl,
    shunt.venous_content_ml_dl,
  ];
  const given = join([
    part('Barometric pressure', shunt.barometric_mmhg, 0, 'mmHg', origins.barometric_mmhg),
    part('alveolar PO2', shunt.alveolar_po2_mmhg, 0, 'mmHg', 'derived'),
    part(
      'arterial saturation used',
      shunt.arterial_saturation_percent,
      1,
      '%',
      origins.arterial_saturation_percent,
    ),
  ]);
  const contents = join([
    part('end-capillary Cc', cc, 2, '', 'derived'),
    part('arterial Ca', ca, 2, '', 'derived'),
    part('arterio-venous difference', shunt.av_difference_ml_dl, 2, '', origins.av_difference_ml_dl),
    part('mixed venous Cv', cv, 2, '', 'derived'),
  ]);
  const { fraction, method } = shunt;
  const isTold = method !== 'dissolved';
  const equation =
    isTold && fraction !== undefined && cc !== undefined && ca !== undefined && cv !== undefined
      ? `Qs/Qt = (Cc − Ca)/(Cc − Cv) = ${quantity(percent(shunt.equation_fraction ?? fraction), 1, '%', 'derived')}, before rounding.`
      : '';
  return [
    given === '' ? '' : `${given}.`,
    contents === '' ? '' : `Oxygen contents, mL/dL: ${contents}.`,
    equation,
  ].filter((text) => text !== '');
}

function besideLines(shunt: Shunt): string[] {
  const lines: string[] = [];
  const short = shunt.dissolved_only;
  if (short?.fraction !== undefined) {
    lines.push(`By dissolved oxygen only: ${quantity(percent(short.fraction), 1, '%', 'derived')}.`);
  } else if (short) {
    lines.push(
      `By dissolved oxygen only: refused. ${sentence(short.refused_because ?? 'The result gives no reason')}`,
    );
  } else if (shunt.method !== 'dissolved' && shunt.fraction !== undefined) {
    lines.push('By dissolved oxygen only: not in the result for this sample.');
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
  return `By another arterio-venous difference: ${rows.join('; ')}.`;
}

/** The virtual closure, step by step, and which numbers are bounds. */
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
  const hasFlow = result.closure.some((step) => Object.keys(step.remaining ?? {}).length > 0);
  const rows = result.closure.map((step) => [...closureRow(step), ...(hasFlow ? [flowLeft(step)] : [])]);
  return section(2, 'Virtual closure', [
    table(
      [
        'Closed (d)',
        'Qs/Qt, %',
        'SaO2 on air, %',
        'SaO2 on oxygen, %',
        'Mean PA, mmHg, at most',
        'Output, L/min, at least',
        ...(hasFlow ? ['Flow left, L/min'] : []),
      ],
      rows,
    ),
    '95 % interval in brackets. Bounds, not forecasts: pressure at unchanged output without recruitment of the normal bed, output at unchanged driving pressure.',
    result.closure.some((step) => step.shunt_fraction_is === 'at-least')
      ? '≥ before a shunt and ≤ before a saturation: other lesions may carry part of the measured shunt, so this is the best that closing here can do; the interval reaches to a lesion that carries none of it.'
      : undefined,
    sharesText(result.closure),
    missedText(result),
    reasons.length > 0 ? bullets(reasons) : undefined,
  ]);
}

/** The share that an unsegmented vessel could carry if it were a feeder: closing the named feeders would leave it. */
function missedText({ missed }: Result): string | undefined {
  const rows = (missed ?? []).flatMap(
    ({ calibre_mm: calibre, point_mm: point, could_carry_percent: carried }) =>
      carried
        ? [
            `the vessel of ${quantity(calibre, 1, 'mm', 'measured')} at ${pointText(point)} mm ${rangeText(carried, 0, '%')} (d)`,
          ]
        : [],
  );
  if (rows.length === 0) return undefined;
  return `**Not in any surface.** Were it a feeder, closing all named ones would leave about this part of the shunt, by calibre alone: ${rows.join('; ')}. The numbers above take no account of it.`;
}

/** Why steps were not computed, each reason once with the steps it concerns. */
function closureGaps(closure: readonly Closure[]): string[] {
  const steps = new Map<string, string[]>();
  for (const { closed, absent_because: why } of closure) {
    if (why !== undefined) addTo(steps, why, closedText(closed));
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

/** A range in a cell whose unit is in the heading. */
const plainRange = ([low, high]: Interval, digits = 1): string =>
  `${fixed(low, digits)}–${fixed(high, digits)}`;

const openFeeders = (step: Closure) =>
  Object.entries(step.remaining ?? {}).sort(([a], [b]) => compareNames(a, b));

/** Flow through the vessels left open; with the share, if it differs between closures. */
const flowLeft = (step: Closure): string =>
  openFeeders(step)
    .map(([name, { flow_l_min: flow }]) => `${markdownText(name)} ${fixed(flow, 2)}`)
    .join(', ');

/** The share of each feeder in the shunt; each distinct value once. */
function sharesText(closure: readonly Closure[]): string | undefined {
  const shares = new Map<string, Set<string>>();
  for (const step of closure)
    for (const [name, { share, share_range: range }] of openFeeders(step)) {
      if (share === undefined) continue;
      const text = `${step.shunt_fraction_is === 'at-least' ? 'at most ' : ''}${fixed(percent(share), 0)}${range ? ` (${plainRange(percentInterval(range)!, 0)})` : ''}`;
      shares.set(name, (shares.get(name) ?? new Set()).add(text));
    }
  if (shares.size === 0) return undefined;
  const each = [...shares]
    .sort(([a], [b]) => compareNames(a, b))
    .map(([name, texts]) => `${markdownText(name)} ${[...texts].join(' or ')}`);
  return `Share of the shunt, % (d), in brackets by other laws of flow with calibre: ${each.join(', ')}.`;
}

function whyNoClosure(result: Result): string {
  if (result.lesion.feeders_absent_because) return nothingToClose(result);
  const shunt = headlineShunt(result);
  if (shunt?.absent_because) return `It needs the shunt. ${sentence(shunt.absent_because)}`;
  if (!shunt) return 'It needs the shunt, and there is none in the result; see Findings.';
  const feeders = Object.values(result.vessels).filter((vessel) => vessel.role === 'feeder');
  return feeders.length === 0 ? nothingToClose(result) : 'The result gives no reason.';
}

const nothingToClose = (result: Result): string =>
  sentence(`${noFeederText(result)}, so there is nothing to close`);
