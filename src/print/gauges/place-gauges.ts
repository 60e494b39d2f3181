import { add, scale, type Vec3 } from '../../foundation/vector.js';
import { Surface } from '../../geometry/surface.js';
import { jointBox } from '../../mesh/measures.js';
import { VertexWelder } from '../../mesh/vertex-welder.js';
import { deviceChangeMm, diameterTolerance, spanTolerance } from '../tolerance.js';
import { diameters } from './diameters.js';
import type { Gauge, GaugeDraft, GaugeInput } from './gauge.js';
import { sacWidths } from './sac-widths.js';
import { spans } from './spans.js';

const MOST_GAUGES = 30;
/** Largest deviation of the print's outside from its nominal place, mm; facets of an outer wall deviate more. */
const PLACE_MM = 0.15;
const WALL_PLACE_MM = 0.3;

/**
 * Points on the outside of a print that can be measured with a caliper: diameters of the vessels, widths of the sac, spans
 * between far ends, and the tag, whose size is known exactly. Expected values are taken from the printed surface itself.
 */
export function placeGauges(input: GaugeInput): Gauge[] {
  const origin: Vec3 = [0, 0, 0];
  const outside = new Surface(input.outside, origin);
  const tagged = input.tagged === input.outside ? outside : new Surface(input.tagged, origin);
  const printed = input.printed === input.tagged ? tagged : new Surface(input.printed, origin);
  const sizes = input.lesion.vessels.flatMap((v) => diameters(v, input, { outside, tagged, printed }));
  const overSac = pointsOverSac(input);
  const widths = sacWidths(input, overSac, printed);
  const tag = tagSizes(input);
  // Spans matter least, so they are dropped first.
  const room = Math.max(0, MOST_GAUGES - sizes.length - widths.length - tag.length);
  const drafts = [...sizes, ...widths, ...spans(input, overSac, printed).slice(0, room), ...tag].slice(
    0,
    MOST_GAUGES,
  );
  return drafts.map((draft, i) => {
    const lumenMm = draft.expectedMm - 2 * input.wallMm;
    const { toleranceMm, source } =
      draft.kind === 'diameter'
        ? diameterTolerance(input.tolerances, lumenMm)
        : spanTolerance(input.tolerances, draft.expectedMm);
    const isFeeder = input.lesion.vessels.some(
      (v) => v.name === draft.vessel && v.role.endsWith('feeder') && v.landing,
    );
    const change = isFeeder ? deviceChangeMm(input.tolerances, lumenMm)?.changeMm : undefined;
    return {
      name: `G${i + 1}`,
      ...draft,
      toleranceMm,
      toleranceSource: source,
      ...(change !== undefined && { deviceChangeMm: change }),
    };
  });
}

/** Corners of the print's outside over the sac, x0 y0 z0 x1 ..., mm; none without a sac. */
function pointsOverSac({ sac, outside: { positions }, wallMm }: GaugeInput): Float64Array {
  if (!sac) return new Float64Array();
  const surface = new Surface(sac, [0, 0, 0]);
  const offMm = wallMm > 0 ? WALL_PLACE_MM : PLACE_MM;
  const mostMm = wallMm + offMm;
  const { low, high } = jointBox([sac]);
  const corners = new VertexWelder();
  for (const v of sac.triangles) corners.add(...surface.vertex(v));
  const cornersOfSac = corners.count;
  const kept: number[] = [];
  for (let p = 0; p < positions.length; p += 3) {
    const at: Vec3 = [positions[p], positions[p + 1], positions[p + 2]];
    if (at.some((c, k) => c < low[k] - mostMm || c > high[k] + mostMm)) continue;
    // Most points of a solid print are corners of the sac: only the others need a search.
    const distanceMm = corners.add(...at) < cornersOfSac ? 0 : surface.closest(at, mostMm)?.distance;
    if (distanceMm !== undefined && distanceMm >= wallMm - offMm) kept.push(...at);
  }
  return Float64Array.from(kept);
}

function tagSizes({ tag }: GaugeInput): GaugeDraft[] {
  if (!tag) return [];
  const row = (axis: Vec3, size: number, words: string): GaugeDraft => ({
    kind: 'tag',
    what: `${words} of the tag's plate: a known size that shows the printer's own error.`,
    point: add(tag.centre, scale(axis, -size / 2)),
    to: add(tag.centre, scale(axis, size / 2)),
    expectedMm: size,
    notToSize: false,
  });
  return [row(tag.right, tag.widthMm, 'Width'), row(tag.up, tag.heightMm, 'Height')];
}
