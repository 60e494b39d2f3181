import type { Result } from '../../result/result.generated.js';
import { entryOf, orderedVessels } from '../words.js';
import { calibreAlt, calibreProfileSvg } from './calibre-profile.js';
import { closureAlt, closureChartSvg } from './closure-chart.js';
import { fileNamer } from './file-names.js';
import { oxygenAlt, oxygenCascadeSvg } from './oxygen-cascade.js';
import { readinessAlt, readinessTimelineSvg } from './readiness-timeline.js';
import { shuntAlt, shuntChartSvg } from './shunt-chart.js';
import { slug } from './svg.js';

/** A figure to link to: its file name in `figures/`, with extension, and its alternative text. */
export interface FigureLink {
  name: string;
  alt: string;
}

export interface Figure extends FigureLink {
  svg: string;
}

/**
 * All figures that the result has data for: `calibre-NAME.svg` for each vessel with a profile, `shunt.svg`,
 * `oxygen.svg`, `readiness.svg`, `closure.svg`, which may be wide. File names consist of letters, digits and dashes and differ even when
 * case is ignored.
 */
export function figuresOf(result: Result): Figure[] {
  const fileName = fileNamer();
  const profiles = orderedVessels(result)
    .filter(([, vessel]) => vessel.profile.length > 0)
    .map(([name, vessel]) => {
      const device = entryOf(result.devices, name);
      return {
        name: fileName(`calibre-${slug(name)}`),
        svg: calibreProfileSvg(name, vessel, device),
        alt: calibreAlt(name, vessel, device),
      };
    });
  const charts: [string, string | undefined, (result: Result) => string][] = [
    ['shunt', shuntChartSvg(result), shuntAlt],
    ['oxygen', oxygenCascadeSvg(result), oxygenAlt],
    ['readiness', readinessTimelineSvg(result), readinessAlt],
    ['closure', closureChartSvg(result), closureAlt],
  ];
  return [
    ...profiles,
    ...charts.flatMap(([stem, svg, alt]) =>
      svg === undefined ? [] : [{ name: fileName(stem), svg, alt: alt(result) }],
    ),
  ];
}
