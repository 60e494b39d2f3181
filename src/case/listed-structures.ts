import type { Case, LabelPart, Part, VesselEnd } from './case.js';

/** A vessel or structure as named in the case. */
export type ListedStructure = Part | VesselEnd | LabelPart;

/** Vessels and structures listed in the case, whatever the form of its surfaces; undefined without surfaces. */
export function listedStructures({
  surfaces,
}: Pick<Case, 'surfaces'>): readonly ListedStructure[] | undefined {
  return surfaces?.parts ?? surfaces?.whole?.ends ?? surfaces?.labels?.parts ?? surfaces?.fromScan?.ends;
}
