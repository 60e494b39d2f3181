import type { Case, LabelPart, Part, VesselEnd } from './case.js';

/** Vessels and structures the case lists, whatever form its surfaces take; undefined without surfaces. */
export function listedStructures({
  surfaces,
}: Pick<Case, 'surfaces'>): readonly (Part | VesselEnd | LabelPart)[] | undefined {
  return surfaces?.parts ?? surfaces?.whole?.ends ?? surfaces?.labels?.parts;
}
