import type { ShownStructure } from './page-types.js';

/** Finds the ids of structures by name or role. */
export interface SceneIds {
  named(name: string): string[];
  ofRoles(...roles: string[]): string[];
  spared: string[];
}

/** Looks up structures by their names in the result. */
export function sceneIds(structures: readonly ShownStructure[]): SceneIds {
  const ids = (keep: (one: ShownStructure) => boolean): string[] =>
    structures.filter(keep).map(({ id }) => id);
  return {
    named: (name) => ids((one) => one.name === name),
    ofRoles: (...roles) => ids((one) => roles.includes(one.role)),
    spared: ids((one) => one.spare),
  };
}
