import type { Case, LabelPart, Part, VesselEnd } from './case.js';

/** A vessel or structure as the case names it. */
export type ListedStructure = Part | VesselEnd | LabelPart;

/** Vessels and structures the case lists, whatever form its surfaces take; undefined without surfaces. */
export function listedStructures({
  surfaces,
}: Pick<Case, 'surfaces'>): readonly ListedStructure[] | undefined {
  return surfaces?.parts ?? surfaces?.whole?.ends ?? surfaces?.labels?.parts ?? surfaces?.fromScan?.ends;
}
