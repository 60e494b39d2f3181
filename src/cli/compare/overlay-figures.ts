import type { LaidOver } from '../../compare/overlay.js';
import { fixed } from '../../foundation/number-text.js';
import { vertexDistances } from '../../geometry/register/surface-distance.js';
import type { TriangleMesh } from '../../mesh/mesh.js';
import { type DeviationInput, deviationFigure } from '../../report/figures/deviation-views.js';
import type { Figure } from '../../report/figures/figures.js';
import { drawnCopy } from '../../report/figures/drawn-copy.js';

/** Edges of the colour bands if the scans do not state their resolution, mm. */
const PLAIN_LEVELS_MM = [0.5, 1, 2, 4];

/** The new surfaces coloured by their distance from the old ones, and the old ones by that of the new. */
export async function overlayFigures(
  { overlay, pairs, onlyOld, onlyNew }: LaidOver,
  stem: string,
  frame: DeviationInput['frame'],
  side: DeviationInput['side'],
): Promise<Figure[]> {
  const { limitMm } = overlay;
  const common = {
    levelsMm: limitMm === undefined ? PLAIN_LEVELS_MM : [0.5, 1, 2, 4].map((times) => times * limitMm),
    ...(limitMm !== undefined && { barLimitMm: limitMm }),
    frame,
    side,
    notes: [
      'The new scan was turned and shifted onto the old, not scaled.',
      `The pose depends on ${overlay.basis}.`,
    ],
  };
  const words = {
    outside: 'new wall outside the old: grown',
    inside: 'new wall inside the old: shrunk',
    ...(limitMm !== undefined && {
      striped: `striped: more than ${fixed(limitMm, 2)} mm, the error of the scans; rising outside, falling inside`,
    }),
  };
  const piece = (drawn: TriangleMesh, to: TriangleMesh, sign: 1 | -1) => {
    const mesh = drawnCopy(drawn);
    const signedMm = vertexDistances(mesh, to).map((d) => sign * d);
    return { mesh, signedMm, ...(limitMm !== undefined && { limitMm: signedMm.map(() => limitMm) }) };
  };
  const draw = async (isNew: boolean): Promise<Figure> => {
    const only = isNew ? onlyNew : onlyOld;
    return deviationFigure({
      ...common,
      name: `${stem}-${isNew ? 'new-on-old' : 'old-under-new'}.svg`,
      title: isNew
        ? 'The new scan, by its distance from the old'
        : 'The old scan, by the distance of the new from it',
      pieces: pairs.map(({ old, placed }) => (isNew ? piece(placed, old, 1) : piece(old, placed, -1))),
      plain: only.map(drawnCopy),
      words: {
        ...words,
        ...(only.length > 0 && { plain: isNew ? 'only in the new scan' : 'only in the old scan' }),
      },
    });
  };
  return [await draw(true), await draw(false)];
}
