import type { TriangleMesh } from '../../mesh/mesh.js';
import { scaled } from '../../mesh/transform.js';
import { type Registration, type RegistrationRules, registerSurfaces } from './register-surfaces.js';
import { sampleSurface } from './surface-samples.js';

const SIZE_SAMPLES = 1000;

/** Size of the moving surface over that of the fixed one, from the extent of their points; undefined without area. */
export function sizeRatio(fixed: TriangleMesh, moving: TriangleMesh): number | undefined {
  const [a, b] = [fixed, moving].map((mesh) => sampleSurface(mesh, SIZE_SAMPLES));
  return a && b && b.radiusMm / a.radiusMm;
}

/**
 * Tests whether the moving surface is the fixed one at another size. Gives the first of the factors (moving over fixed) at which it is
 * placed, with each surface completely on the other, and the factor that then fits best. For diagnosis only: nothing is rescaled.
 */
export function matchSize(
  fixed: TriangleMesh,
  moving: TriangleMesh,
  factors: readonly number[],
  rules: RegistrationRules,
): { factor: number; fitted: number; registration: Registration } | undefined {
  for (const factor of factors) {
    const registration = registerSurfaces(fixed, scaled(moving, 1 / factor), rules);
    if (registration?.verdict !== 'placed') continue;
    if (Math.min(registration.overlap.moving, registration.overlap.fixed) < rules.leastOverlap) continue;
    return { factor, fitted: factor * (registration.scale?.factor ?? 1), registration };
  }
  return undefined;
}
