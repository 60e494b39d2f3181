import type { Part } from '../case/case.js';
import type { LoadedSurface } from '../mesh/load-surface.js';

/** A structure of the case with its surface. */
export interface LoadedPart {
  part: Pick<Part, 'name' | 'role' | 'of' | 'spare'>;
  surface: LoadedSurface;
  /** The file name shown in messages. */
  shown: string;
}
