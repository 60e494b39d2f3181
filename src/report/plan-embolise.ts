/** Plan A of plan.md: a table of landing zones, then for each vessel the device, alternates and rejected devices. */
import { addTo } from '../foundation/add-to.js';
import { fixed, rangeText } from '../foundation/number-text.js';
import type { Device, Result, Vessel } from '../result/result.generated.js';
import type { Citations } from './citations.js';
import { bullets, clause, markdownText, section, sentence, table } from './markdown.js';
import {
  armText,
  cellEstimate,
  counted,
  deviceKind,
  devicePhrase,
  entryOf,
  noFeederText,
  targetNames,
  trimmed,
} from './words.js';

type Landing = NonNullable<Vessel['landing']>;

/** Access, landing zone and device of each vessel; the calibre's interval and the oversize are in the summary. */
export function planASection(result: Result, cite: Citations): string {
  const names = targetNames(result);
  if (names.length === 0) {
    return section(2, 'Plan A: embolise', [`Not worked out: ${noFeederText(result)}; see Findings.`]);
  }
  return section(2, 'Plan A: embolise', [
    cite.sentence(
      "Before opening a device, measure on the angiogram at the vessel's widest moment; outside the interval above, size it again (common practice, no source).",
    ),
    closureOrderText(result),
    zoneTable(result, names),
    bullets(names.map((name) => vesselLine(result, name, cite))),
  ]);
}

/** The order of closure by share of flow; undefined for fewer than two vessels. */
function closureOrderText(result: Result): string | undefined {
  const order = result.closure_order ?? [];
  if (order.length < 2) return undefined;
  return `Order, the largest share of the shunt first: ${order.map((name) => `**${markdownText(name)}**`).join(', ')}; the team may choose another.`;
}

/** The measured landing zone of each vessel; undefined if no vessel has one. */
function zoneTable(result: Result, names: readonly string[]): string | undefined {
  const rows = names.flatMap((name) => {
    const vessel = entryOf(result.vessels, name);
    return vessel?.landing ? [zoneRow(name, vessel.landing, vessel.arises_from)] : [];
  });
  if (rows.length === 0) return undefined;
  if (rows.length === 1) return oneZone(rows[0]);
  return [
    table(
      [
        'Landing zone (m)',
        'Calibre, widest, mm',
        'Taper, %',
        'Length, mm',
        'From the far end, mm',
        'To the neck, mm',
        'Past the last branch, mm',
        'Working view (d)',
      ],
      rows,
    ),
    'A dash: no side branch upstream, or no view. Correct the view under fluoroscopy.',
  ].join('\n\n');
}

/** A single zone as a sentence; a table of one row would add nothing. */
function oneZone([name, calibres, taper, length, along, neck, branch, view]: string[]): string {
  const [calibre, widest] = calibres.split(', ');
  const side = branch === '' ? 'no side branch upstream' : `${branch} mm past the last branch`;
  return `Landing zone of ${name} (m): calibre ${calibre} mm, widest ${widest === 'not known' ? widest : `${widest} mm`}, taper ${taper} %; ${length} mm long, ${along} mm from the far end, ${neck} mm to the neck, ${side}. Working view${view === '' ? ' not computed' : `: ${view} (d); correct it under fluoroscopy`}.`;
}

function zoneRow(name: string, landing: Landing, arisesFrom: string | undefined): string[] {
  const width = landing.largest_width_mm === undefined ? 'not known' : fixed(landing.largest_width_mm, 1);
  return [
    `**${markdownText(name)}**${arisesFrom ? ` from ${markdownText(arisesFrom)}` : ''}`,
    `${fixed(landing.calibre_mm, 1)}, ${width}`,
    fixed(landing.taper_percent, 0),
    fixed(landing.length_mm, 1),
    rangeText([landing.from_mm, landing.to_mm], 1, ''),
    fixed(landing.to_sac_mm, 1),
    landing.to_branch_mm === undefined ? '' : fixed(landing.to_branch_mm, 1),
    landing.view ? armText(landing.view) : '',
  ];
}

/** The device with its window, catheter and alternates, then what does not fit in the table of zones. */
function vesselLine(result: Result, name: string, cite: Citations): string {
  const device = entryOf(result.devices, name);
  const landing = entryOf(result.vessels, name)?.landing;
  const none = 'the result gives no reason';
  const parts: string[] = [];
  if (entryOf(result.vessels, name)?.role === 'systemic-feeder' && !device)
    return `**${markdownText(name)}**: a systemic feeder; no landing zone is looked for and no device is planned. Decide in the team how it is closed.`;
  if (!landing)
    parts.push(
      `**no landing zone**: ${clause(entryOf(result.vessels, name)?.landing_absent_because ?? none)}`,
    );
  else if (!landing.view) parts.push(`No working view: ${clause(landing.view_absent_because ?? none)}`);
  if (!device || !devicePhrase(device)) {
    parts.push(
      `**no device chosen**: ${clause(device?.absent_because ?? 'the result contains no device for this vessel')}`,
    );
    if (device?.window_mm) parts.push(sentence(windowText(device, cite)));
    if (device?.if_none) parts.push(sentence(device.if_none));
  } else {
    const code = device.code === undefined ? 'device without a code' : markdownText(device.code);
    parts.push(`${[code, windowText(device, cite), lumenText(device)].join('; ')}.`);
    parts.push(alternatesText(device));
    if (device.if_none) parts.push(`If it cannot be used: ${clause(device.if_none)}`);
    if (device.borderline) {
      const why = clause(device.borderline_because ?? 'the interval of the calibre reaches past the window');
      parts.push(`**Borderline**: ${why} Have the neighbouring sizes at hand.`);
    }
    if (landing?.image_calibre_mm !== undefined) parts.push(imageText(landing, device));
    if (device.packing)
      parts.push(
        `Packing density ${fixed(device.packing.density_percent, 0)} % (d). ${sentence(device.packing.note)}`,
      );
  }
  if (device && device.rejected.length > 0)
    parts.push(`Not suitable: ${refusals(device.rejected, device.kind)}`);
  return `**${markdownText(name)}**: ${parts.join(' ')}`;
}

/** The calibre in the scan, and the device for that calibre if it disagrees with the surface. */
function imageText(landing: Landing, { by_image: other }: Device): string {
  const shown = `By the scan ${cellEstimate(landing.image_calibre_mm, landing.image_calibre_interval_mm, 1, 'mm', 'measured')}`;
  if (!other) return `${shown}.`;
  const choice =
    other.code === undefined || other.diameter_mm === undefined || other.oversize_percent === undefined
      ? 'none of the shelf'
      : `${markdownText(other.code)}, ${trimmed(other.diameter_mm)} mm, ${fixed(other.oversize_percent, 1)} % over`;
  return `${shown}, against the surface; by that calibre: ${choice}.`;
}

function windowText(device: Device, cite: Citations): string {
  const mark = device.rule_source ? ` ${cite.mark(device.rule_source)}` : '';
  return device.window_mm
    ? `window ${rangeText(device.window_mm, 2, 'mm')} (d)${mark}`
    : `no window of diameters${mark}`;
}

const lumenText = (device: Device): string =>
  device.needs_lumen_mm === undefined
    ? 'catheter lumen not stated, see the instructions for use'
    : `catheter lumen at least ${trimmed(device.needs_lumen_mm)} mm (s)`;

function alternatesText(device: Device): string {
  const texts = device.alternates.map((other) => {
    const pieces = other.count === undefined ? '' : `, ${counted(other.count, 'piece')}`;
    const by = other.ready_by ? `by ${markdownText(other.ready_by)}` : 'not in stock, lead time not known';
    const stock = other.on_shelf === undefined ? 'stock not known' : other.on_shelf ? 'in stock' : by;
    return `${markdownText(other.code)}, ${deviceKind(other.kind)} ${trimmed(other.diameter_mm)} mm${pieces}, ${fixed(other.oversize_percent, 1)} % over, ${stock}`;
  });
  return texts.length > 0 ? `Alternates: ${texts.join('; ')}.` : 'No alternate in the shelf file fits.';
}

/**
 * Rejected devices: those whose size is just outside the window with their oversize, the others counted, those rejected for another reason
 * by name. If a device was chosen, only devices of its kind count as just outside the window: they are the sizes to have at hand.
 */
function refusals(rejected: Device['rejected'], chosen: Device['kind']): string {
  const windows = new Map<string, string[]>();
  const others = new Map<string, string[]>();
  let farther = 0;
  for (const { code, kind, why, size } of rejected) {
    if (size?.window_mm === undefined || size.window_percent === undefined) {
      addTo(others, why, markdownText(code));
      continue;
    }
    if (!size.is_nearest || (chosen !== undefined && kind !== chosen)) farther++;
    else {
      const window = `${rangeText(size.window_percent, 0, '%')}, ${rangeText(size.window_mm, 2, 'mm')}`;
      const oversize = `${fixed(size.oversize_percent, 2)} %`;
      addTo(windows, window, `${markdownText(code)} ${trimmed(size.diameter_mm)} mm ${oversize}`);
    }
  }
  const near = [...windows].map(([window, codes]) => `${codes.join(', ')} (of ${window})`);
  const rest = farther > 0 ? [`${farther} more (result.json)`] : [];
  const bySize = [...near, ...rest];
  const byReason = [...others].map(([why, codes]) => `${codes.join(', ')}: ${clause(why)}`);
  return [...(bySize.length > 0 ? [`${bySize.join('; ')}.`] : []), ...byReason].join(' ');
}
