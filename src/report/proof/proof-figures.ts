import { fixed } from '../../foundation/number-text.js';
import { placedMesh } from '../../geometry/register/register-surfaces.js';
import { vertexDistances } from '../../geometry/register/surface-distance.js';
import type { TriangleMesh } from '../../mesh/mesh.js';
import { regionFinder } from '../../print/print-regions.js';
import type { SurfaceProof, SurfaceProofInput } from '../../print/surface-proof.js';
import { spanTolerance } from '../../print/tolerance.js';
import { type DeviationInput, deviationFigure } from '../figures/deviation-views.js';
import { drawnCopy } from '../figures/drawn-copy.js';
import type { Figure } from '../figures/figures.js';

/**
 * `scan-on-model.svg`, the scan coloured by its distance from the model, and `model-under-scan.svg`, the model coloured by its distance
 * from the scan. Empty if the scan was not registered.
 */
export function proofFigures(
  input: SurfaceProofInput,
  proof: SurfaceProof,
  scan: TriangleMesh,
  frame: DeviationInput['frame'],
  side: DeviationInput['side'],
): Figure[] {
  const model = input.parts.find((p) => p.role === 'model');
  if (!model || !proof.registration) return [];
  const { pose, reachMm } = proof.registration;
  const placed = placedMesh(drawnCopy(scan), pose);
  const regionOf = regionFinder(input);
  const limitsOf = ({ positions }: TriangleMesh): Float64Array =>
    Float64Array.from(
      { length: positions.length / 3 },
      (_, v) =>
        regionOf([positions[3 * v], positions[3 * v + 1], positions[3 * v + 2]]).toleranceMm +
        2 * input.limits.noiseMm,
    );
  const noiseMm = 2 * input.limits.noiseMm;
  const toleranceMm = spanTolerance(input.tolerances, 0).toleranceMm + noiseMm;
  const least = Math.min(toleranceMm, ...proof.regions.map((r) => r.toleranceMm + noiseMm));
  const thin = least < toleranceMm ? `, from ± ${fixed(least, 2)} mm on thin structures` : '';
  const common = {
    levelsMm: [toleranceMm / 4, toleranceMm / 2, toleranceMm, 2 * toleranceMm],
    barLimitMm: toleranceMm,
    reachMm: Math.max(reachMm, 2.2 * toleranceMm),
    frame,
    side,
  };
  const words = {
    outside: 'the scan lies outside the model',
    inside: 'the scan lies inside the model',
    striped: `striped: out of tolerance (± ${fixed(toleranceMm, 2)} mm${thin}, ${fixed(noiseMm, 2)} mm of it for the scan); rising outside, falling inside`,
  };
  const back = drawnCopy(model.mesh);
  return [
    deviationFigure({
      ...common,
      name: 'scan-on-model.svg',
      title: 'The scan, by its distance from the model',
      pieces: [{ mesh: placed, signedMm: vertexDistances(placed, model.mesh), limitMm: limitsOf(placed) }],
      words: { ...words, beyond: 'not on the model' },
      notes: ['The scan was turned and shifted, not scaled.'],
    }),
    deviationFigure({
      ...common,
      name: 'model-under-scan.svg',
      title: 'The model, by the distance of the scan from it',
      pieces: [
        {
          mesh: back,
          signedMm: vertexDistances(back, placed).map((d) => -d),
          limitMm: limitsOf(back),
        },
      ],
      words: { ...words, beyond: 'not shown by the scan' },
      notes: ['The scan was turned and shifted, not scaled.'],
    }),
  ];
}
