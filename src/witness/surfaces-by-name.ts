import { Surface } from '../geometry/surface.js';
import type { BloodSurface } from './wall-points.js';

/** The surface of a vessel, made once: its own, or the one of all. */
export function surfacesByName(surfaces: readonly BloodSurface[]): (name: string) => Surface | undefined {
  const made = new Map<string, Surface>();
  return (name) => {
    const source =
      surfaces.find((one) => one.name === name) ?? (surfaces.length === 1 ? surfaces[0] : undefined);
    if (!source) return undefined;
    const { positions } = source.mesh;
    const surface =
      made.get(source.name) ?? new Surface(source.mesh, [positions[0], positions[1], positions[2]]);
    made.set(source.name, surface);
    return surface;
  };
}
