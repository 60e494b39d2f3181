import { proposalMark } from '../result/proposal.js';
import type { Result } from '../result/result.generated.js';
import type { Figure } from './figures/figures.js';
import { element, label } from './figures/svg.js';
import { htmlText } from './html-document.js';

/** What must be done before any part of a proposal is used. */
const CURE =
  'The surface was made from the scan by this program, and nobody has confirmed it against the slices. Not for the care of a patient until somebody has.';

/** Height of the band on a figure, px, and its colours. */
const BAND = { height: 26, fill: '#000000', text: '#ffffff' };

/**
 * Marks every output as 'proposal, not confirmed' if the result's surface is not confirmed; otherwise outputs stay as they are. Every
 * writer of documents, figures and pages goes through this.
 */
export interface ProposalMarker {
  /** The mark, if one is needed. */
  mark?: string;
  /** Markdown: below its first heading. */
  document(markdown: string): string;
  /** A band below the picture, and its alternative text. */
  figures<T extends Figure>(figures: readonly T[]): T[];
  /** One picture as SVG. */
  svg(picture: string): string;
  /** HTML: a line at the top of the page. */
  page(html: string): string;
  /** Plain text: a line at the top. */
  text(plain: string): string;
}

export const proposalMarker = (result: Pick<Result, 'proposal'>): ProposalMarker =>
  markerOf(proposalMark(result));

/** A marker that adds this text; without a text it changes nothing. */
export function markerOf(mark: string | undefined): ProposalMarker {
  const same = (text: string): string => text;
  if (mark === undefined)
    return { document: same, figures: (list) => [...list], svg: same, page: same, text: same };
  return {
    mark,
    document: (text) => text.replace(/^(#+ [^\n]*\n)/, `$1\n**STOP: ${mark}.** ${CURE}\n`),
    figures: (list) =>
      list.map((one) => ({ ...one, alt: `${one.alt} (${mark})`, svg: markedFigure(one.svg, mark) })),
    svg: (picture) => markedFigure(picture, mark),
    text: (plain) => `STOP: ${mark}. ${CURE}\n\n${plain}`,
    page: (html) =>
      html
        .replace('<title>', `<title>${htmlText(mark)}: `)
        .replace(
          /<body>\n?/,
          `$&<p role="note"><strong>STOP: ${htmlText(mark)}.</strong> ${htmlText(CURE)}</p>\n`,
        ),
  };
}

/** The picture with a band below it that shows the mark. */
function markedFigure(svg: string, mark: string): string {
  const size = /^<svg [^>]*viewBox="0 0 ([\d.]+) ([\d.]+)" width="[\d.]+" height="[\d.]+"/.exec(svg);
  if (!size) throw new RangeError('a figure without a size');
  const [width, height] = [Number(size[1]), Number(size[2])];
  const tall = height + BAND.height;
  const head = size[0].replace(
    /viewBox=.*$/,
    `viewBox="0 0 ${width} ${tall}" width="${width}" height="${tall}"`,
  );
  const band = [
    element('rect', { x: 0, y: height, width, height: BAND.height, fill: BAND.fill }),
    label(mark, width / 2, height + 18, { anchor: 'middle', bold: true, fill: BAND.text }),
  ].join('\n');
  return svg.replace(size[0], head).replace(/\n?<\/svg>\n?$/, `\n${band}\n</svg>\n`);
}
