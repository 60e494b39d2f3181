/** A vessel straightened along its centreline, cut in two perpendicular directions, above one axis in mm. */
import { scale } from '../../foundation/vector.js';
import type { Vessel } from '../../result/result.generated.js';
import type { VesselPictures } from '../../witness/scan-pictures.js';
import type { VesselStrip, WallPair } from '../../witness/straightened.js';
import { greyImage, shareOutside } from './grey-image.js';
import { COLOURS } from './palette.js';
import { IMAGE_DASH, IMAGE_LINE, SURFACE_LINE } from './scan-slice.js';
import { clipped, element, fitText, label, line, textWidth } from './svg.js';
import { directionLetters } from './view-axes.js';

/** Greatest height of a strip, px. */
const MOST_HEIGHT = 200;
const BETWEEN = 14;
const ZONE_ROW = 22;
/** Right limit of labels, px. */
const LAST_PX = 950;

/** Draws the two strips one above the other; `bottom` is the lower edge of the axis below them, px. */
export function stripSvg(
  { straight, unsure }: VesselPictures,
  vessel: Vessel,
  key: string,
  place: { left: number; right: number; top: number },
): { svg: string; bottom: number } {
  const { fromMm, toMm, reachMm } = straight;
  const perMm = Math.min((place.right - place.left) / (toMm - fromMm), MOST_HEIGHT / (2 * reachMm));
  const right = place.left + (toMm - fromMm) * perMm;
  const height = 2 * reachMm * perMm;
  const x = (mm: number): number => place.left + (mm - fromMm) * perMm;
  const top = place.top + ZONE_ROW;
  const tops = [top, top + height + BETWEEN];
  const bottom = tops[1]! + height;
  const strips = straight.strips.map((strip, i) => {
    const middle = tops[i]! + height / 2;
    const y = (mm: number): number => middle - mm * perMm;
    const id = `${key}-t${i}`;
    return [
      clipped(
        id,
        { left: place.left, right, top: tops[i]!, bottom: tops[i]! + height },
        imageOf(strip, place.left, middle, perMm),
        ...strip.surface.flatMap((run) => walls(run, x, y, SURFACE_LINE)),
        ...inRuns(strip.image).flatMap((run) => walls(run, x, y, IMAGE_LINE, IMAGE_DASH)),
      ),
      upLetters(strip, x, tops[i]!, middle + height / 2, perMm),
      heightScale(place.left, y, reachMm),
    ].join('');
  });
  const outside = Math.max(...straight.strips.map(({ grey }) => shareOutside(grey))) > 0.02;
  return {
    svg: [
      ...strips,
      marks(vessel, x, place.top, top, bottom, { left: place.left, right }),
      ...unsure.map((stretch) => unsureBar(stretch, x, tops[0]! + height, { left: place.left, right })),
      axis(x, fromMm, toMm, bottom, place.left, right),
      outside ? label('black: outside of the scan', right, bottom + 48, { anchor: 'end', size: 11 }) : '',
    ].join(''),
    bottom: bottom + 44,
  };
}

function imageOf({ grey }: VesselStrip, left: number, middle: number, perMm: number): string {
  const height = grey.rows * grey.stepMm * perMm;
  const width = grey.columns * grey.stepMm * perMm;
  return greyImage(grey, { x: left, y: middle - height / 2, width, height });
}

/** Both walls of a gap-free run. */
function walls(
  run: readonly WallPair[],
  x: (mm: number) => number,
  y: (mm: number) => number,
  stroke: string,
  dash?: string,
): string[] {
  return (['upMm', 'downMm'] as const).map((side) =>
    element('path', {
      d: run
        .map((at, i) => `${i === 0 ? 'M' : 'L'}${x(at.atMm).toFixed(1)} ${y(at[side]).toFixed(1)}`)
        .join(''),
      fill: 'none',
      stroke,
      'stroke-width': 1.6,
      'stroke-linejoin': 'round',
      'stroke-dasharray': dash,
    }),
  );
}

/** A bar between the strips that carries the number of the stretch. */
function unsureBar(
  { number, fromMm, toMm }: VesselPictures['unsure'][number],
  x: (mm: number) => number,
  top: number,
  { left, right }: { left: number; right: number },
): string {
  const from = Math.max(left, Math.min(right - UNSURE_WIDTH, x(fromMm)));
  const to = Math.min(right, Math.max(from + UNSURE_WIDTH, x(toMm)));
  return [
    element('rect', { x: from, y: top + 1, width: to - from, height: BETWEEN - 2, fill: UNSURE_COLOUR }),
    label(String(number), (from + to) / 2, top + BETWEEN - 3, {
      anchor: 'middle',
      size: 10,
      bold: true,
      fill: '#ffffff',
    }),
  ].join('');
}

/** Least width of a bar, px, so that its number fits. */
const UNSURE_WIDTH = 16;
export const UNSURE_COLOUR = COLOURS.vermilion;

/** A larger distance between stations means that some were left out, at an opening or between neighbours on all sides. */
const GAP_MM = 2.5;

function inRuns(stations: readonly WallPair[]): WallPair[][] {
  const runs: WallPair[][] = [];
  for (const [i, one] of stations.entries()) {
    if (i === 0 || one.atMm - stations[i - 1]!.atMm > GAP_MM) runs.push([]);
    runs[runs.length - 1]!.push(one);
  }
  return runs.filter((run) => run.length > 1);
}

/** The patient's directions up and down, if known and if there is room. */
function upLetters(
  { up }: VesselStrip,
  x: (mm: number) => number,
  top: number,
  bottom: number,
  perMm: number,
): string {
  const style = { size: 11, bold: true, halo: true, anchor: 'middle' } as const;
  let last = Number.NEGATIVE_INFINITY;
  return up
    .flatMap(({ atMm, direction }) => {
      if ((atMm - last) * perMm < 40) return [];
      last = atMm;
      return [
        label(directionLetters(direction), x(atMm), top + 12, style),
        label(directionLetters(scale(direction, -1)), x(atMm), bottom - 4, style),
      ];
    })
    .join('');
}

/** Far end, landing zone, openings and neck, across both strips. */
function marks(
  vessel: Vessel,
  x: (mm: number) => number,
  rowTop: number,
  top: number,
  bottom: number,
  side: { left: number; right: number },
): string {
  const parts: string[] = [];
  const { landing, neck, branches } = vessel;
  const upright = (mm: number, dash: string): string =>
    line(x(mm), top, x(mm), bottom, COLOURS.purple, 1.2, dash);
  if (landing) {
    const [from, to] = [x(landing.from_mm), x(landing.to_mm)];
    const y = top - 5;
    parts.push(
      line(from, y, to, y, COLOURS.orange, 5),
      upright(landing.from_mm, '2 3'),
      upright(landing.to_mm, '2 3'),
    );
    const text = 'landing zone';
    const middle = Math.max(
      side.left + textWidth(text, 11) / 2,
      Math.min(side.right - textWidth(text, 11) / 2, (from + to) / 2),
    );
    parts.push(label(text, middle, rowTop + 8, { size: 11, anchor: 'middle' }));
  }
  // labels above the row of the zone: neck first, then openings, each in the lowest row where it overlaps no other
  const taken: { row: number; from: number; to: number }[] = [];
  const above = (text: string, at: number): void => {
    const width = textWidth(text, 11);
    const from = Math.max(side.left, Math.min(at, LAST_PX - width));
    const row = [0, 1, 2].find(
      (one) => !taken.some((t) => t.row === one && t.from < from + width + 6 && t.to > from - 6),
    );
    // a fourth row would run into the title: its bar stays, and the plan's profile names it
    if (row === undefined) return;
    taken.push({ row, from, to: from + width });
    parts.push(label(text, from, rowTop - 6 - 13 * row, { size: 11 }));
  };
  if (neck) {
    parts.push(upright(neck.at_mm, '7 3'));
    above('neck', x(neck.at_mm) - textWidth('neck', 11) / 2);
  }
  for (const branch of branches) {
    const [from, to] = [branch.from_mm ?? branch.at_mm, branch.to_mm ?? branch.at_mm];
    parts.push(line(x(from), top - 1, Math.max(x(to), x(from) + 2), top - 1, COLOURS.green, 3));
    above(fitText(`opening of ${branch.name}`, 170, 11), x(from));
  }
  return parts.join('');
}

function axis(
  x: (mm: number) => number,
  fromMm: number,
  toMm: number,
  bottom: number,
  left: number,
  right: number,
): string {
  const perMm = x(1) - x(0);
  const step = [5, 10, 20, 50, 100].find((mm) => mm * perMm >= 40) ?? 200;
  const ticks: string[] = [line(left, bottom, right, bottom, COLOURS.black, 1)];
  for (let mm = Math.ceil(fromMm / step) * step; mm <= toMm; mm += step)
    ticks.push(
      line(x(mm), bottom, x(mm), bottom + 5, COLOURS.black, 1),
      label(String(mm), x(mm), bottom + 18, { anchor: 'middle', size: 11 }),
    );
  ticks.push(label('Distance from the far end, towards the sac (mm)', left, bottom + 36, { size: 12 }));
  return ticks.join('');
}

/** The scale across the vessel, mm, on the left of a strip. */
function heightScale(left: number, y: (mm: number) => number, reachMm: number): string {
  const step = reachMm > 12 ? 10 : 5;
  const parts = [line(left, y(reachMm), left, y(-reachMm), COLOURS.black, 1)];
  for (let mm = -Math.floor(reachMm / step) * step; mm <= reachMm; mm += step)
    parts.push(
      line(left - 5, y(mm), left, y(mm), COLOURS.black, 1),
      label(`${mm < 0 ? '−' : ''}${Math.abs(mm)}`, left - 8, y(mm) + 4, { anchor: 'end', size: 11 }),
    );
  parts.push(label('across (mm)', left - 40, y(0), { anchor: 'middle', size: 11, rotate: -90 }));
  return parts.join('');
}
