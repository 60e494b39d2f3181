/** Plan A (embolise) and plan B (resect the lobe) of plan.md, as numbered steps. */
import { fixed, rangeText } from '../foundation/number-text.js';
import type { Device, Result, Vessel } from '../result/result.generated.js';
import type { Citations } from './citations.js';
import { bullets, clause, markdownText, numbered, section, sentence, table } from './markdown.js';
import { shelfCell } from './plan-summary.js';
import {
  counted,
  deviceKind,
  devicePhrase,
  entryOf,
  estimate,
  KINDS,
  noFeederText,
  cellEstimate,
  quantity,
  ROLE_WORDS,
  targetNames,
  trimmed,
  viewText,
} from './words.js';

/** One subsection for each vessel to close: view, place, device, catheter, shelf; then alternates and rejected sizes. */
export function planASection(result: Result, cite: Citations): string {
  const names = targetNames(result);
  if (names.length === 0) {
    return section(2, 'Plan A: embolise', [`Not worked out: ${noFeederText(result)}; see Findings.`]);
  }
  const vessels = names.map((name) => {
    const vessel = entryOf(result.vessels, name);
    const role = vessel ? `, ${ROLE_WORDS[vessel.role]}` : '';
    const from = vessel?.arises_from ? ` from ${markdownText(vessel.arises_from)}` : '';
    return section(3, `Plan A, ${markdownText(name)}${role}${from}`, vesselSteps(result, name, cite));
  });
  return section(2, 'Plan A: embolise', [
    cite.sentence(
      'Measure again on the angiogram at the widest moment before a size is opened; outside the interval below, size anew (common practice, no source).',
    ),
    closureOrderText(result),
    ...vessels,
  ]);
}

/** The order of closure by share of flow; undefined where there is no choice. */
function closureOrderText(result: Result): string | undefined {
  const order = result.closure_order ?? [];
  if (order.length < 2) return undefined;
  return `Order, the largest share of the shunt first: ${order.map((name) => `**${markdownText(name)}**`).join(', then ')}; the team may choose another.`;
}

function vesselSteps(result: Result, name: string, cite: Citations): (string | undefined)[] {
  const landing = entryOf(result.vessels, name)?.landing;
  const device = entryOf(result.devices, name);
  const steps = [...(landing ? landingSteps(landing) : []), ...(device ? deviceSteps(device, cite) : [])];
  const noLanding = landing
    ? undefined
    : `**No landing zone.** ${sentence(entryOf(result.vessels, name)?.landing_absent_because ?? 'The result gives no reason')}`;
  return [
    noLanding,
    steps.length > 0 ? numbered(steps) : undefined,
    noDeviceText(device),
    device ? alternatesText(device) : undefined,
    device && device.rejected.length > 0 ? rejectedText(device.rejected) : undefined,
  ];
}

/** Devices refused by size, grouped by the window they miss; those next to it with numbers; then those refused for another reason. */
function rejectedText(rejected: Device['rejected']): string {
  const windows = new Map<string, { near: string[]; far: string[] }>();
  const lines: string[] = [];
  for (const { code, why, size } of rejected) {
    if (size?.window_mm === undefined || size.window_percent === undefined) {
      lines.push(`${markdownText(code)}: ${clause(why)}`);
      continue;
    }
    const window = `${rangeText(size.window_percent, 0, '%')} over (${rangeText(size.window_mm, 2, 'mm')})`;
    const group = windows.get(window) ?? { near: [], far: [] };
    windows.set(window, group);
    if (size.is_nearest)
      group.near.push(
        `${markdownText(code)} ${trimmed(size.diameter_mm)} mm, ${fixed(size.oversize_percent, 2)} %`,
      );
    else group.far.push(markdownText(code));
  }
  for (const [window, { near, far }] of windows) {
    const rest = far.length > 0 ? `${near.length > 0 ? '; farther: ' : 'far: '}${far.join(', ')}` : '';
    lines.push(`Outside ${window}: ${near.join('; ')}${rest}.`);
  }
  return `Not suitable:\n\n${bullets(lines)}`;
}

function landingSteps(landing: NonNullable<Vessel['landing']>): string[] {
  const view = landing.view
    ? `**Working view**: ${viewText(landing.view)}; correct it under fluoroscopy.`
    : `**Working view**: not computed. ${sentence(landing.view_absent_because ?? 'The result gives no reason')}`;
  const branch =
    landing.to_branch_mm !== undefined
      ? `${quantity(landing.to_branch_mm, 1, 'mm', 'measured')} beyond the last side branch, which stays open`
      : 'no side branch upstream';
  const width =
    landing.largest_width_mm !== undefined
      ? `, largest width ${quantity(landing.largest_width_mm, 1, 'mm', 'measured')}`
      : '';
  return [
    view,
    `**Landing zone**: calibre ${estimate(landing.calibre_mm, landing.calibre_interval_mm, 1, 'mm', 'measured')}${width}, taper ${quantity(landing.taper_percent, 0, '%', 'measured')}; ${quantity(landing.length_mm, 1, 'mm', 'measured')} long, ${rangeText([landing.from_mm, landing.to_mm], 1, 'mm')} from the far end, ${quantity(landing.to_sac_mm, 1, 'mm', 'measured')} upstream of the neck; ${branch}.`,
  ];
}

function deviceSteps(device: Device, cite: Citations): string[] {
  const steps: string[] = [];
  const phrase = devicePhrase(device);
  const window = device.window_mm
    ? `Window ${rangeText(device.window_mm, 2, 'mm')} ${KINDS.derived.mark}.`
    : 'The rule gives no window of diameters here.';
  const rule = device.rule
    ? ` Rule ${markdownText(device.rule)}${device.rule_source ? ` ${cite.mark(device.rule_source)}` : ''}.`
    : '';
  if (!phrase && !device.window_mm && !rule) return [];
  if (!phrase) return [`**Size to look for**: ${window}${rule}`];
  const oversize =
    device.oversize_percent !== undefined
      ? ` Oversize ${estimate(device.oversize_percent, device.oversize_interval_percent, 1, '%', 'derived')}.`
      : ' Oversize not computed.';
  steps.push(`**Device**: ${phrase}; on the shelf: ${shelfCell(device)}.${oversize} ${window}${rule}`);
  if (device.borderline) {
    steps.push(
      `**Borderline**: ${clause(device.borderline_because ?? 'the interval of the calibre reaches past the window')} Have the neighbouring sizes at hand.`,
    );
  }
  steps.push(
    device.needs_lumen_mm !== undefined
      ? `**Catheter**: inner lumen of at least ${trimmed(device.needs_lumen_mm)} mm ${KINDS.stated.mark}, tip in the landing zone.`
      : '**Catheter**: lumen not stated; see the instructions for use.',
  );
  if (device.packing) {
    steps.push(
      `**Packing**: density ${quantity(device.packing.density_percent, 0, '%', 'derived')}. ${sentence(device.packing.note)}`,
    );
  }
  return steps;
}

function noDeviceText(device: Device | undefined): string | undefined {
  if (device && devicePhrase(device)) {
    return device.if_none ? `If it cannot be used: ${clause(device.if_none)}` : undefined;
  }
  const why = sentence(device?.absent_because ?? 'The result holds no device for this vessel');
  const then = device?.if_none ? ` What then: ${clause(device.if_none)}` : '';
  return `**No device chosen.** ${why}${then}`;
}

function alternatesText(device: Device): string | undefined {
  if (device.alternates.length === 0) {
    return devicePhrase(device) ? 'No alternate in the shelf file fits.' : undefined;
  }
  const lines = device.alternates.map((other) => {
    const pieces = other.count === undefined ? '' : `, ${counted(other.count, 'piece')}`;
    const by = other.ready_by
      ? `not in stock, by ${markdownText(other.ready_by)}`
      : 'not in stock, lead time not known';
    const stock = other.on_shelf === undefined ? 'stock not known' : other.on_shelf ? 'on the shelf' : by;
    const rule = other.rule ? ` (${markdownText(other.rule)})` : '';
    return `${markdownText(other.code)}: ${deviceKind(other.kind)}, ${trimmed(other.diameter_mm)} mm ${KINDS.stated.mark}${pieces}, oversize ${fixed(other.oversize_percent, 1)} % ${KINDS.derived.mark}, ${stock}${rule}`;
  });
  return `Alternates that fit as well:\n\n${bullets(lines)}`;
}

/** The resection: branches to spare with distances, steps with what will be seen, expected lung function, leak test. */
export function planBSection(result: Result, cite: Citations): string {
  const { resection } = result;
  if (!resection) {
    return section(2, 'Plan B: resect', ['Not worked out: the result holds no resection; see Findings.']);
  }
  const what = resection.procedure ?? (resection.lobe ? `Resection of the ${resection.lobe}` : undefined);
  return section(2, 'Plan B: resect', [
    what ? `**${sentence(what)}**` : undefined,
    resection.absent_because ? `Not worked out in full: ${clause(resection.absent_because)}` : undefined,
    section(3, 'Branches to spare', [spareText(resection.spare)]),
    stakeText(resection.at_stake, cite),
    section(3, 'Steps', [
      resection.steps.length > 0
        ? numbered(resection.steps.map((step) => stepText(step, cite)))
        : `No steps: ${clause(resection.absent_because ?? 'the result gives no reason')}`,
    ]),
    section(3, 'Expected lung function', [
      functionText(resection, cite),
      offerText(resection.lung_sparing, cite),
    ]),
    resection.margin?.length ? section(3, 'Margin', [bullets(resection.margin.map(sentence))]) : undefined,
    resection.steps.some(({ stage }) => stage === 'leak test') ? undefined : leakText(resection),
  ]);
}

type Resection = NonNullable<Result['resection']>;

function spareText(spare: Resection['spare']): string {
  if (spare.length === 0) {
    return 'None marked in the case. Look for branches to the remaining lung on the source images before dividing.';
  }
  return table(
    ['Branch', 'Supplies', 'Distance to the line of division', 'Line of division'],
    spare.map((branch) => [
      `**${markdownText(branch.name)}**`,
      branch.supplies ? markdownText(branch.supplies) : 'not stated',
      branch.to_division_mm !== undefined
        ? quantity(branch.to_division_mm, 1, 'mm', 'measured')
        : `not known: ${clause(branch.to_division_absent_because ?? 'the result gives no reason')}`,
      branch.division ? markdownText(branch.division) : 'not stated',
    ]),
  );
}

function stakeText(stake: Resection['at_stake'], cite: Citations): string | undefined {
  if (!stake?.length) return undefined;
  return section(3, 'From anatomy, also to keep', [
    bullets(
      stake.map((one) => `**${markdownText(one.name)}**: ${clause(one.text)} ${cite.mark(one.source)}`),
    ),
  ]);
}

function stepText(step: Resection['steps'][number], cite: Citations): string {
  const see = step.see ? ` You will see: ${clause(step.see)}` : '';
  return `**${markdownText(step.stage)}**: ${clause(step.text)}${see} ${cite.mark(step.source)}`;
}

function functionText(
  resection: Omit<NonNullable<Resection['lung_sparing']>, 'because'>,
  cite: Citations,
): string {
  const parts: string[] = [];
  if (resection.predicted_fev1_l !== undefined)
    parts.push(`FEV1 ${quantity(resection.predicted_fev1_l, 2, 'L', 'derived')}`);
  if (resection.predicted_fev1_percent !== undefined) {
    parts.push(
      `FEV1 ${cellEstimate(resection.predicted_fev1_percent, resection.predicted_fev1_percent_interval, 1, '% of predicted', 'derived')}`,
    );
  }
  if (resection.predicted_dlco_percent !== undefined) {
    parts.push(
      `DLCO ${cellEstimate(resection.predicted_dlco_percent, resection.predicted_dlco_percent_interval, 1, '% of predicted', 'derived')}`,
    );
  }
  const hasInterval = resection.predicted_fev1_percent_interval ?? resection.predicted_dlco_percent_interval;
  const range = hasInterval ? '' : ' No interval is given.';
  const because = resection.predicted_because ? ` ${cite.sentence(resection.predicted_because)}` : '';
  const reading = resection.predicted_reading ? ` ${cite.sentence(resection.predicted_reading)}` : '';
  if (parts.length === 0) {
    return `Not computed.${because || ' The case gives no spirometry, or the lobe is not known.'}`;
  }
  return `Predicted after the resection: ${parts.join('; ')}.${range}${because}${reading}`;
}

/** Segments alone in place of the lobe: why, and what function that leaves. */
function offerText(offer: Resection['lung_sparing'], cite: Citations): string | undefined {
  if (!offer) return undefined;
  const why = offer.because.map((text) => cite.marked(markdownText(text))).join('; ');
  if (offer.absent_because)
    return `**Sparing lung** would help (${why}), but cannot be worked out: ${clause(offer.absent_because)}`;
  const { because: _, segments = [], ...predicted } = offer;
  return `**Sparing lung**: discuss segments ${markdownText(segments.join(', '))} alone (${why}). ${functionText(predicted, cite)} To plan it, write surgery.extent: segments.`;
}

function leakText(resection: Resection): string | undefined {
  const test = resection.leak_test;
  if (!test) return undefined;
  const note = test.note ? ` ${sentence(test.note)}` : '';
  return section(3, 'Leak test', [
    `Airway pressure ${fixed(test.cmh2o, 0)} cmH2O ${KINDS.stated.mark}, which is ${fixed(test.mmhg, 1)} mmHg ${KINDS.derived.mark}.${note}`,
  ]);
}
