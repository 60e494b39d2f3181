import type { Case, Shelf } from '../../case/case.js';
import { readShelf } from '../../case/read-shelf.js';

const read = new WeakMap<Pick<Case, 'shelf'>, Promise<Shelf>>();

/** The shelf that a case names, read once for everything that needs it; undefined without one. Throws InputFailure (3). */
export async function caseShelf(patientCase: Pick<Case, 'shelf'>): Promise<Shelf | undefined> {
  const { shelf } = patientCase;
  if (!shelf) return undefined;
  const known = read.get(patientCase) ?? readShelf(shelf.absolute, shelf.relative);
  read.set(patientCase, known);
  return known;
}
