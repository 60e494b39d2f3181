import { add, cross, dot, perpendicular, scale, type Vec3 } from '../../foundation/vector.js';
import type { Surface } from '../../geometry/surface.js';
import { PointSet } from '../../mesh/point-set.js';
import { type GaugeDraft, type GaugeInput, LONGEST_MM } from './gauge.js';
import { jawsLieFlat, readsNoMore } from './jaws.js';
import { type Extreme, extremeWidths, extremeWidthsAbout, roughWidths, type Width } from './widths.js';

/** Widths within this angle count as one, cosine of 20 degrees. */
const SAME = 0.94;
/** Number of the largest and smallest widths that are tried. */
const MOST_TRIED = 6;

/**
 * Widths of the sac that a caliper finds by rocking it: a largest one, a smallest one, and one at right angles. A width on which jaws
 * cannot lie flat is skipped for the next one.
 *
 * `corners`: the corners of the print's outside over the sac, x0 y0 z0 x1 ..., mm
 */
export function sacWidths(input: GaugeInput, corners: Float64Array, printed: Surface): GaugeDraft[] {
  if (corners.length === 0) return [];
  const points = new PointSet(corners);
  const used: Width[] = [];
  const isNew = (w: Width): boolean => used.every((u) => Math.abs(dot(u.direction, w.direction)) < SAME);
  const take = (
    widths: readonly Width[],
    which: Extreme,
    about?: Vec3,
  ): { width: Width; isFirst: boolean } | undefined => {
    const i = widths.slice(0, MOST_TRIED).findIndex((w) => isNew(w) && isReached(printed, w, which, about));
    if (i < 0) return undefined;
    used.push(widths[i]);
    return { width: widths[i], isFirst: i === 0 };
  };
  const drafts: GaugeDraft[] = [];
  const over = input.wallMm > 0 ? ', over its walls' : '';
  const draft = (w: Width, words: string, how: string): void => {
    const [from, to] = jawPlaces(w);
    drafts.push({
      kind: 'width',
      what: `${words}${over}: jaws flat on both sides; ${how}.`,
      point: from,
      to,
      expectedMm: w.widthMm,
      notToSize: false,
    });
  };
  const rough = roughWidths(points);
  const both = (['largest', 'smallest'] as const).map((which) => ({
    which,
    found: take(extremeWidths(points, which, rough), which),
  }));
  for (const { which, found } of both)
    if (found)
      draft(
        found.width,
        found.isFirst ? WORDS[which].first : WORDS[which].other,
        `rock the caliper and take the ${which} reading`,
      );
  const axis = both.findLast(({ found }) => found);
  if (!axis) return drafts;
  const line = axis.found!.width.direction;
  const third = take(extremeWidthsAbout(points, line, axis.which), axis.which, line);
  const name = WORDS[axis.which].short;
  if (third)
    draft(
      third.width,
      `Width of the sac at right angles to its ${name} width`,
      `turn the caliper about the line of the ${name} width and take the ${axis.which} reading`,
    );
  return drafts;
}

const WORDS: Record<Extreme, { first: string; other: string; short: string }> = {
  largest: {
    first: 'Longest width of the sac',
    other: 'Largest width of the sac about this direction',
    short: 'longest',
  },
  smallest: {
    first: 'Shortest width of the sac',
    other: 'Smallest width of the sac about this direction',
    short: 'shortest',
  },
};

function isReached(printed: Surface, width: Width, which: Extreme, about?: Vec3): boolean {
  const { direction, widthMm } = width;
  const [from, to] = jawPlaces(width);
  if (widthMm > LONGEST_MM || !jawsLieFlat(printed, from, to, direction)) return false;
  if (which === 'smallest') return true;
  const u = perpendicular(direction);
  const v = cross(direction, u);
  const axes = about
    ? [about]
    : [0, 1, 2, 3].map((i) =>
        add(scale(u, Math.cos((Math.PI * i) / 4)), scale(v, Math.sin((Math.PI * i) / 4))),
      );
  return readsNoMore(printed, scale(add(from, to), 0.5), direction, widthMm, axes);
}

/** Positions of both jaws, opposite each other and midway between the points that they touch. */
function jawPlaces({ direction, low, high, widthMm }: Width): [Vec3, Vec3] {
  const middle = scale(add(low, high), 0.5);
  return [add(middle, scale(direction, -widthMm / 2)), add(middle, scale(direction, widthMm / 2))];
}
