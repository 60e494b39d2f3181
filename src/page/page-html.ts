import { readFile } from 'node:fs/promises';
import { fixed } from '../foundation/number-text.js';
import type { CaseSurface } from '../report/figures/lesion-pieces.js';
import type { ViewFigure } from '../report/figures/rendered-views.js';
import { contentPolicy, htmlText, jsonForHtml, markdownHtml } from '../report/html-document.js';
import { noFeederText } from '../report/words.js';
import type { Result } from '../result/result.generated.js';
import { type PageFrame, pictureData } from './page-data.js';
import type { PageData, PageScan } from './page-types.js';
import { sceneIds } from './scene-ids.js';
import {
  closingSection,
  faders,
  headSection,
  keepSection,
  stepList,
  urgentSection,
  vesselTable,
  viewButtons,
  viewsSection,
} from './sections.js';
import { planASteps, planBSteps } from './steps.js';

export interface PageInput {
  result: Result;
  /** Closed surfaces, mm, in the axes of the file. */
  structures: readonly CaseSurface[];
  frame: PageFrame;
  /** The rendered views, for browsers without WebGL and for printing. */
  views: readonly ViewFigure[];
  /** The crop of the scan that the slices are cut from. */
  slices?: PageScan;
  /** Text on the site, used instead of the lobe when there are several lesions. */
  site?: string;
  /** The page for a bleed, as Markdown. */
  urgent?: string;
}

/**
 * The script is next to the built code, and the style is next to both the built code and the source, so the relative address is the same.
 */
const ASSETS = { viewer: '../../dist/page/viewer.js', style: './page.css' } as const;

/**
 * The lesion in 3D as one self-contained page that works from disk: no request, strict content policy, every text
 * escaped. Large surfaces are simplified for display, with the error stated on the page. Same input, same bytes. Throws if the viewer was
 * not built (`npm run build`).
 */
export async function pageHtml({
  result,
  structures,
  frame,
  views,
  slices,
  urgent,
  site,
}: PageInput): Promise<string> {
  const [picture, markdown, viewer, style] = await Promise.all([
    pictureData(result, structures, frame),
    markdownHtml(),
    asset(ASSETS.viewer),
    asset(ASSETS.style).then((css) => css.replace(/\/\*.*?\*\/\s*/gs, '')),
  ]);
  const ids = sceneIds(picture.structures);
  const planA = planASteps(result, ids);
  const planB = planBSteps(result, ids);
  const { triangles, ...rest } = picture;
  const data: PageData = {
    ...rest,
    plans: { a: planA.map((step) => step.scene), b: planB.map((step) => step.scene) },
    ...(slices && { scan: slices }),
  };
  const procedure = result.resection?.procedure;
  const lists = [
    stepList('a', 'Plan A: embolise', planA, result, markdown, `Not worked out: ${noFeederText(result)}.`),
    stepList(
      'b',
      `Plan B: resect${procedure ? `, ${procedure}` : ''}`,
      planB,
      result,
      markdown,
      `Not worked out: ${result.resection?.absent_because ?? 'the result contains no resection.'}`,
    ),
  ];
  return [
    '<!doctype html>',
    '<html lang="en">',
    '<head>',
    '<meta charset="utf-8">',
    contentPolicy([style], [viewer]),
    '<meta name="viewport" content="width=device-width, initial-scale=1">',
    `<title>${htmlText(result.title ?? `Case ${result.case}`)}</title>`,
    `<style>${style}</style>`,
    '</head>',
    '<body>',
    headSection(result, site),
    urgentSection(result, urgent === undefined ? undefined : markdown.block(urgent)),
    '<main>',
    pictureSection(
      viewButtons(picture.vessels, picture.patientAxes, picture.side),
      viewsSection(views, picture.vessels),
    ),
    `<div class="beside"><section class="steps">${STEP_CHOICE}${lists.join('\n')}</section>${readingSection(vesselTable(result, picture.vessels, markdown))}${slices ? sliceSection(slices) : ''}${fadeSection(faders(picture.structures))}${CUT}${RULER}${KEYS}</div>`,
    '</main>',
    keepSection(result, markdown),
    closingSection(result, { ...picture, triangles }),
    '<p id="said" role="status" aria-live="polite"></p>',
    `<script type="application/json" id="lesion">${jsonForHtml(data)}</script>`,
    `<script>${viewer}</script>`,
    '</body>',
    '</html>\n',
  ].join('\n');
}

async function asset(path: string): Promise<string> {
  try {
    return await readFile(new URL(path, import.meta.url), 'utf8');
  } catch (error) {
    throw new Error(`the viewer of the page is not built (${path}): run npm run build`, { cause: error });
  }
}

function pictureSection(buttons: string, views: string): string {
  return [
    '<section class="picture" aria-labelledby="picture-title">',
    '<h2 id="picture-title" class="quiet">The lesion in 3D</h2>',
    '<div id="scene" tabindex="0" role="application" aria-roledescription="picture that can be turned" aria-label="The lesion in 3D. Arrow keys turn it; the other keys are listed under Keys." aria-describedby="facing"></div>',
    '<p id="facing"></p>',
    '<p id="without" hidden>This browser cannot draw 3D (WebGL is missing or switched off). The drawn views below, including each landing zone at its C-arm angles, the tables, the steps and the calibre along each vessel still work.</p>',
    views,
    `<div class="look" role="group" aria-label="Look from">${buttons}<button type="button" data-zoom="1">Nearer</button><button type="button" data-zoom="-1">Farther</button><button type="button" data-view="whole">Whole lesion</button></div>`,
    '</section>',
  ].join('\n');
}

const STEP_CHOICE = `<div class="choice" role="group" aria-label="Follow a plan"><button type="button" data-choose="none" aria-pressed="true">No plan, look round</button><button type="button" data-choose="a" aria-pressed="false">Plan A, step by step</button><button type="button" data-choose="b" aria-pressed="false">Plan B, step by step</button><span class="move"><button type="button" data-go="-1" disabled>Step back</button><button type="button" data-go="1" disabled>Next step</button></span></div>`;

const readingSection = (table: string): string =>
  `<section class="vessels"><h2>Vessels</h2><p class="hint">Click a name to go to its vessel. Point at a vessel to read its calibre there.</p>${table}<div id="along" hidden><svg id="profile" role="img" aria-labelledby="along-text"></svg><label for="along-at">Along <b id="along-name"></b>, from the far end</label><input type="range" id="along-at" min="0" max="100" step="0.5" value="0"><p id="along-text"></p></div></section>`;

const sliceSection = ({ size, stepMm, windowText }: PageScan): string =>
  `<section class="slices"><h2>In the scan</h2><p id="slices-hint" class="hint">Choose a vessel or point at one: the slices follow the place. Left: across the vessel, seen towards the sac. Right: along it.</p><div id="slices" hidden><canvas id="slice-across" width="300" height="300" role="img"></canvas><canvas id="slice-along" width="300" height="300" role="img"></canvas></div><p class="hint">A crop of ${fixed((size[0] * size[1] * size[2]) / 1e6, 2)} million voxels of ${fixed(stepMm, 2)} mm about the lesion, interpolated from the scan; window ${htmlText(windowText)}. Lines: the surfaces as drawn here. For checking by eye; finer pictures are in the plan.</p></section>`;

const fadeSection = (list: string): string =>
  `<section class="fading"><h2>Structures</h2><p class="hint">Slide to the left to fade a wall.</p>${list}<fieldset class="toggles"><legend class="quiet">Shown in the picture</legend><label><input type="checkbox" data-show="names" checked> names</label><label><input type="checkbox" data-show="zones" checked> landing zones</label><label><input type="checkbox" data-show="devices"> devices at their unconstrained size</label></fieldset></section>`;

const CUT = `<section class="cutting"><h2>Cut</h2><label for="cut-way">Cut plane</label><select id="cut-way"></select><label for="cut-at">Depth of the cut</label><input type="range" id="cut-at" min="0" max="100" step="1" value="50" disabled></section>`;

const RULER = `<section class="measuring"><h2>Ruler</h2><button type="button" id="ruler" aria-pressed="false">Measure a distance</button><button type="button" id="ruler-clear" disabled>Clear</button><p id="ruler-text">Two clicks on the surface give the straight distance between them.</p></section>`;

const KEYS = `<section class="keys"><h2>Keys</h2><p>Tab to the picture, or click it, then:</p><dl><div><dt>Arrows</dt><dd>turn (with Shift: move)</dd></div><div><dt>+ and −</dt><dd>nearer, farther</dd></div><div><dt>Home</dt><dd>the whole lesion</dd></div><div><dt>1 to 9</dt><dd>C-arm view of that landing zone</dd></div><div><dt>. and ,</dt><dd>next step, step back</dd></div><div><dt>M, then Enter</dt><dd>ruler; Enter marks the point under the cross</dd></div><div><dt>C</dt><dd>next cut plane; [ and ] move it</dd></div><div><dt>Esc</dt><dd>ruler off, cut off</dd></div></dl><p>Mouse: drag turns, Shift or right button moves, wheel zooms. Touch: one finger turns, two fingers move and zoom.</p></section>`;
