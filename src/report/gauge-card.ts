import { fixed } from '../foundation/number-text.js';
import type { PrintDocument } from './print-gauges.js';
import { xmlText } from './figures/svg.js';

type Gauge = NonNullable<PrintDocument['print']>['gauges'][number];

const STYLE = `@page { size: A4; margin: 12mm }
body { font: 9pt sans-serif; color: #000; margin: 0 auto; max-width: 186mm }
h1 { font-size: 13pt; margin: 0 0 2mm }
p { margin: 1mm 0 }
table { border-collapse: collapse; width: 100%; table-layout: fixed; margin: 2mm 0 }
th, td { border: 0.2mm solid #555; padding: 0 1mm; height: 6.4mm; overflow: hidden; white-space: nowrap; text-align: left }
th { font-size: 8pt }
.n { text-align: right }
col.p { width: 10mm } col.m { width: 17mm } col.r { width: 17mm }`;

/** A short description of what is measured. */
function shortWhat({ kind, what = '', vessel }: Gauge): string {
  if (kind === 'diameter') {
    const where = what.replace(/^.*? of \S+ /, '').replace(/:.*$/s, '');
    return `${vessel ?? ''}: ${where.replace(/ mm from its far end$/, ' mm').replace('its landing', 'landing')}`;
  }
  const reading = /take the (largest|smallest) reading/.exec(what)?.[1];
  const short = what
    .replace(/[:,].*$/s, '')
    .replace(
      /from the rim of (.*)'s far end to the (?:rim of (.*)'s far end|farthest point of the sac)$/,
      (_, a, b) => (b === undefined ? `over the rim of ${a} and the sac` : `over the rims of ${a} and ${b}`),
    );
  return reading === undefined ? short : `${short} (${reading} reading)`;
}

/**
 * `gauge-card.html`: one A4 sheet to take to the bench, with every check point, its expected reading, and empty columns for two readers in
 * two rounds. Undefined without check points.
 */
export function renderGaugeCard({ case: caseId, print, purpose }: PrintDocument): string | undefined {
  if (!print || print.gauges.length === 0) return undefined;
  const rows = print.gauges.map(
    (g) =>
      `<tr><td><b>${xmlText(g.name)}</b></td><td>${xmlText(shortWhat(g))}</td><td class="n">${fixed(g.expected_mm, 2)}</td><td class="n">&#177; ${fixed(g.tolerance_mm, 2)}</td><td></td><td></td><td></td><td></td></tr>`,
  );
  const marks = print.handedness?.landmarks.map(({ what }) => xmlText(what));
  const lines = [
    `Model <b>${xmlText(print.model_id ?? 'without number')}</b> (the same number is on the tag), scale ${fixed(print.scale ?? 1, 3)}, ${xmlText(print.process ?? 'process not stated')}${purpose === undefined ? '' : `, purpose ${xmlText(purpose)}`}. All lengths in mm.`,
    'Supports off, at room temperature. Rest the jaws, do not squeeze. Of a diameter: the mean of the smallest and the largest reading about the vessel; of a span the largest.',
    ...(marks
      ? [
          `Tag facing you, head mark up: from ${marks[0]} to ${marks[1]} to ${marks[2]} turns &#9744; clockwise &#9744; anticlockwise`,
        ]
      : []),
  ];
  return `<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<title>Gauge card: ${xmlText(caseId)}</title>
<style>
${STYLE}
</style>
</head>
<body>
<h1>Gauge card: ${xmlText(caseId)}</h1>
${lines.map((l) => `<p>${l}</p>`).join('\n')}
<table>
<colgroup><col class="p"><col><col class="m"><col class="m"><col class="r"><col class="r"><col class="r"><col class="r"></colgroup>
<thead><tr><th>Point</th><th>What (of a diameter: mm from the far end)</th><th>Expected</th><th>Tolerance</th><th>A, round 1</th><th>A, round 2</th><th>B, round 1</th><th>B, round 2</th></tr></thead>
<tbody>
${rows.join('\n')}
</tbody>
</table>
<p>Instrument: ______________________ Readers A and B: ______________________ Date: ____________</p>
<p>Where each point lies: gauges.md. A print shows the segmentation, not the patient. Not sterile. Not for choosing a device size. Local protocols and the instructions for use of each device come first.</p>
</body>
</html>
`;
}
