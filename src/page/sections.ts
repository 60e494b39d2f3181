/** The parts of the page as HTML strings. All text from the case goes through `htmlText` or the Markdown renderer. */
import { fixed, rangeText } from '../foundation/number-text.js';
import type { ViewFigure } from '../report/figures/rendered-views.js';
import { htmlText, type MarkdownHtml } from '../report/html-document.js';
import { plainLine } from '../report/plain-line.js';
import { stopsOf } from '../report/plan-summary.js';
import { devicePhrase, entryOf, lobeText, orderedVessels, ROLE_WORDS, shuntCell } from '../report/words.js';
import { headlineShunt } from '../result/headline.js';
import { STANDING_CAUTIONS } from '../result/cautions.js';
import type { Result } from '../result/result.generated.js';
import type { ReadVessel, ShownStructure } from './page-types.js';
import { BLOOD_WORDS } from './roles.js';
import type { PageStep } from './steps.js';
import { thenBox } from './then-numbers.js';

const ADVICE: Record<Result['readiness']['recommended'], string> = {
  embolise: 'Plan A: embolise',
  resect: 'Plan B: resect',
  discuss: 'Discuss in the team before choosing',
};

const PURPOSE: Record<Result['purpose'], string | undefined> = {
  clinical: undefined,
  teaching: 'Teaching case. Not for the care of a patient.',
  demo: 'Demonstration with invented data. Not for the care of a patient.',
};

/** Title, side and lobe (or `site`) in large letters, advice, stop findings. */
export function headSection(result: Result, site?: string): string {
  const { found, items } = stopsOf(result);
  const stops = [
    ...found.map((one) => `${one.where}: ${one.text}`),
    ...items.map((one) => `${one.text} ${one.because}`),
  ];
  const segments = result.lesion.segments?.length ? ` · ${result.lesion.segments.join(', ')}` : '';
  const purpose = PURPOSE[result.purpose];
  const shunt = headlineShunt(result);
  return [
    '<header>',
    `<p class="case">Case ${htmlText(result.case)} · CT ${htmlText(result.scan_date ?? 'date not stated')}${purpose ? ` · <strong>${purpose}</strong>` : ''}</p>`,
    `<h1>${htmlText(result.title ?? `Case ${result.case}`)}</h1>`,
    `<p class="site">${htmlText(site ?? lobeText(result.lesion) + segments)}</p>`,
    '<dl class="facts">',
    `<div><dt>Advice</dt><dd><strong>${ADVICE[result.readiness.recommended]}</strong></dd></div>`,
    `<div><dt>Shunt, Qs/Qt</dt><dd>${shunt?.fraction === undefined ? 'not computed' : `<strong>${htmlText(shuntCell(shunt))}</strong>`}${result.baseline === 'after' ? ', after treatment' : ''}</dd></div>`,
    site === undefined
      ? `<div><dt>Sac</dt><dd>${result.sac ? `<strong>${fixed(result.sac.volume_ml, 1)} mL</strong>, ${fixed(result.sac.longest_mm, 0)} mm long (m)` : 'not measured'}</dd></div>`
      : '',
    '</dl>',
    stops.length > 0
      ? `<div class="stop" role="note"><strong>STOP</strong><ul>${stops.map((text) => `<li>${htmlText(text)}</li>`).join('')}</ul></div>`
      : '',
    '</header>',
  ].join('\n');
}

/** The page for a bleed, first on the page; open if the lesion is bleeding, else collapsed. */
export function urgentSection(result: Result, html: string | undefined): string {
  if (html === undefined) return '';
  const isBleeding = result.urgent?.state === 'bleeding';
  return `<details class="urgent"${isBleeding ? ' open' : ''}><summary>${isBleeding ? 'BLEEDING' : 'If it bleeds (standby)'}</summary>\n${html.replace(/<(\/?)h2>/g, '<$1h3>').replace(/<(\/?)h1>/g, '<$1h2>')}</details>`;
}

/** The view buttons: fixed directions, and one working view for each landing zone. */
export function viewButtons(vessels: readonly ReadVessel[], patientAxes: boolean, side?: string): string {
  const button = (view: string, text: string): string =>
    `<button type="button" data-view="${view}">${htmlText(text)}</button>`;
  const fixedViews = patientAxes
    ? [
        button('front', 'Front'),
        button(side === 'right' ? 'right' : 'left', side === 'right' ? 'Right side' : 'Left side'),
        button('back', 'Back'),
        button('below', 'Below, as axial CT'),
      ]
    : [
        button('front', 'Along file axis y'),
        button('left', 'Along file axis x'),
        button('below', 'Along file axis z'),
      ];
  const arms = vessels
    .filter((vessel) => vessel.view)
    .map(
      (vessel) =>
        `<button type="button" class="arm" data-arm="${vessel.id}"><span>C-arm for ${htmlText(vessel.name)}</span> <small>${htmlText(armText(vessel.view!))}</small></button>`,
    );
  return `${fixedViews.join('')}${arms.join('')}`;
}

/** `RAO 34° cranial 29°`. */
function armText(view: { laoDeg: number; cranialDeg: number }): string {
  return `${view.laoDeg < 0 ? 'RAO' : 'LAO'} ${fixed(Math.abs(view.laoDeg), 0)}°, ${view.cranialDeg < 0 ? 'caudal' : 'cranial'} ${fixed(Math.abs(view.cranialDeg), 0)}°`;
}

/** The vessel table; the name of each vessel is a button that moves the view to it. */
export function vesselTable(
  result: Result,
  vessels: readonly ReadVessel[],
  { inline }: MarkdownHtml,
): string {
  const rows = orderedVessels(result).map(([name, vessel]) => {
    const read = vessels.find((one) => one.name === plainLine(name));
    const device = entryOf(result.devices, name);
    const phrase = device && devicePhrase(device);
    const { landing } = vessel;
    const notes = [
      vessel.supplies ? `supplies ${htmlText(vessel.supplies)}` : '',
      vessel.arises_from ? `from ${htmlText(vessel.arises_from)}` : '',
    ].filter((note) => note !== '');
    const what = `${ROLE_WORDS[vessel.role]}${vessel.spare ? ', <strong class="keep">KEEP</strong>' : ''}`;
    const wanted = vessel.role === 'feeder' || vessel.role === 'systemic-feeder';
    const zone = landing
      ? `<strong>${fixed(landing.calibre_mm, 1)} mm</strong> <small>(${rangeText(landing.calibre_interval_mm, 1, 'mm')}), ${fixed(landing.length_mm, 0)} mm long</small>`
      : wanted
        ? `none: ${htmlText(vessel.landing_absent_because ?? 'no reason given')}`
        : '–';
    return `<tr${read ? ` data-row="${read.id}"` : ''}><th scope="row">${
      read
        ? `<button type="button" data-vessel="${read.id}" aria-pressed="false">${htmlText(name)}</button>`
        : htmlText(name)
    }</th><td>${what}${notes.length > 0 ? `<br><small>${notes.join('; ')}</small>` : ''}</td><td class="number">${fixed(vessel.calibre_mm.mean, 1)}<br><small>${fixed(vessel.calibre_mm.min, 1)} to ${fixed(vessel.calibre_mm.max, 1)}</small></td><td>${zone}${
      phrase ? `<br><small>${inline(phrase)}</small>` : ''
    }</td></tr>`;
  });
  if (rows.length === 0) return '<p>No vessel was measured.</p>';
  return `<table><thead><tr><th scope="col">Vessel</th><th scope="col">What it is</th><th scope="col" class="number">Calibre, mm<br><small>mean; least to most</small></th><th scope="col">Landing zone, device</th></tr></thead><tbody>${rows.join('')}</tbody></table>`;
}

/** One fader for each structure, with its colour, pattern and name. */
export function faders(structures: readonly ShownStructure[]): string {
  const rows = structures.map(
    (one) =>
      `<li><span class="swatch ${one.blood}" data-swatch="${one.id}"></span><label for="fade-${one.id}"><b>${htmlText(one.name)}</b> ${htmlText(one.roleText)}${one.spare ? ' <strong class="keep">KEEP</strong>' : ''}</label><input type="range" id="fade-${one.id}" data-fade="${one.id}" min="0" max="100" step="5" value="${Math.round(one.solid * 100)}"></li>`,
  );
  const blood = [...new Set(structures.map((one) => one.blood))].filter((one) => one !== 'none');
  const legend = blood
    .map((one) => `<li><span class="swatch ${one}"></span>${PATTERN_WORDS[one]}: ${BLOOD_WORDS[one]}</li>`)
    .join('');
  return `<ul class="faders">${rows.join('')}</ul><ul class="legend">${legend}</ul>`;
}

const PATTERN_WORDS: Readonly<Record<string, string>> = {
  deoxygenated: 'Rings, one every 5 mm',
  oxygenated: 'Slanted hatch',
  mixed: 'Plain',
};

/** All steps of one plan as a list; the viewer shows one at a time, print shows all. */
export function stepList(
  plan: 'a' | 'b',
  title: string,
  steps: readonly PageStep[],
  result: Result,
  { inline }: MarkdownHtml,
  absent: string,
): string {
  const boxes = steps.map((step) => thenBox(result, step.after));
  const items = steps.map(
    (step, i) =>
      `<li class="step" data-step="${i}"><div class="words"><h3><span class="count">${i + 1} of ${steps.length}</span> ${inline(step.heading)}</h3>${step.lines.map((line) => `<p>${inline(line)}</p>`).join('')}${step.source ? `<p class="source">Source: ${inline(step.source)}</p>` : ''}</div><div class="then${i > 0 && boxes[i] === boxes[i - 1] ? ' same' : ''}">${boxes[i]}</div></li>`,
  );
  return `<section class="plan" data-plan="${plan}"><h2>${htmlText(title)}</h2>${
    items.length > 0 ? `<ol>${items.join('')}</ol>` : `<p>${htmlText(absent)}</p>`
  }</section>`;
}

/** What plan B must keep: marked branches with their distance, and structures known from anatomy. */
export function keepSection(result: Result, { inline }: MarkdownHtml): string {
  const spare = (result.resection?.spare ?? []).map(
    (one) =>
      `<li><strong class="keep">KEEP</strong> <b>${htmlText(one.name)}</b>${one.supplies ? `, supplies ${htmlText(one.supplies)}` : ''}: ${
        one.to_division_mm === undefined
          ? `distance to the line of division not known${one.to_division_absent_because ? ` (${htmlText(one.to_division_absent_because)})` : ''}`
          : `${fixed(one.to_division_mm, 1)} mm (m) from the line of division${one.division ? ` (${htmlText(one.division)})` : ''}`
      }</li>`,
  );
  const stake = (result.resection?.at_stake ?? []).map(
    (one) => `<li><b>${htmlText(one.name)}</b>: ${htmlText(one.text)}</li>`,
  );
  if (spare.length + stake.length === 0) return '';
  return `<section class="keeping"><h2>To keep if the lobe is taken</h2>${
    spare.length > 0
      ? `<ul>${spare.join('')}</ul>`
      : `<p>${inline('The case marks no branch to be spared; look for them on the source images.')}</p>`
  }${stake.length > 0 ? `<p>From anatomy, whether or not the model shows them:</p><ul>${stake.join('')}</ul>` : ''}</section>`;
}

/** How the picture was made, cautions, program. */
export function closingSection(
  result: Result,
  picture: { displayErrorMm: number; triangles: { measured: number; shown: number }; patientAxes: boolean },
): string {
  const { measured, shown } = picture.triangles;
  const error =
    shown < measured
      ? `The surface is drawn with ${shown} of ${measured} triangles; at the points compared it is within ${fixed(Math.max(0.01, picture.displayErrorMm), 2)} mm of the surface measured.`
      : `The surface is drawn with all its ${shown} triangles, to within ${fixed(Math.max(0.001, picture.displayErrorMm), 3)} mm.`;
  const cautions = [...new Set([...STANDING_CAUTIONS, ...result.cautions])];
  return [
    '<section class="closing">',
    '<h2>Read this before using the picture</h2>',
    `<ul>${cautions.map((text) => `<li>${htmlText(text)}</li>`).join('')}</ul>`,
    `<p>${error} Calibres, zones and angles are those of the plan, computed on the surface measured. Distances measured with the ruler are straight lines between points on the drawn surface. The projection is parallel, so the scale bar holds at every depth; an angiogram is not parallel.</p>`,
    '<p>Devices are drawn at their unconstrained size, at the sac-side end of the zone; inside the vessel a plug is narrower and longer, and a coil takes its own shape. (m) measured, (d) derived, (a) assumed, (s) stated in the case or shelf file.</p>',
    picture.patientAxes
      ? ''
      : '<p><strong>The patient axes of the coordinates are not known: left, right and C-arm angles are not shown.</strong></p>',
    `<p>${htmlText(result.tool.name)} ${htmlText(result.tool.version)}, rules ${htmlText(result.tool.rule_set.slice(0, 12))}, case ${htmlText(result.case)}. The whole plan is in plan.md.</p>`,
    '</section>',
  ].join('\n');
}

/** Limit on the pictures in the page, bytes; the rest are only in the plan folder. */
const LARGEST_VIEWS = 900_000;

/** The drawn views, for browsers without 3D and for printing: all sides, then each landing zone at its C-arm angles. */
export function viewsSection(views: readonly ViewFigure[], vessels: readonly ReadVessel[]): string {
  if (views.length === 0)
    return '<div id="views"><p>No rendered views: the case has no surface of the lesion.</p></div>';
  let bytes = 0;
  const kept = views.filter(({ svg }) => {
    bytes += svg.length;
    return bytes <= LARGEST_VIEWS;
  });
  const drawn = kept.map(({ svg, vessel }) => {
    const id = vessel === undefined ? undefined : vessels.find((one) => one.name === plainLine(vessel))?.id;
    return `<figure${id ? ` data-working="${id}"` : ''}>${svg}</figure>`;
  });
  const rest = views.length - kept.length;
  return `<div id="views">${drawn.join('')}${
    rest > 0 ? `<p>${rest} more drawn views are in the folder figures of the plan.</p>` : ''
  }</div>`;
}
