import type { Case } from '../case/case.js';
import { listedStructures } from '../case/listed-structures.js';
import { convert } from '../foundation/units.js';
import type { Percent } from '../foundation/unit-types.js';
import type { Facts } from '../rules/facts.js';

/** Predicted lung function after the resection, percent of normal. */
export interface PredictedLungFunction {
  fev1Percent?: Percent;
  dlcoPercent?: Percent;
}

/** `yes` or `no`; undefined for `unknown`. */
export function stated(answer: string | undefined): string | undefined {
  return answer === 'unknown' ? undefined : answer;
}

/** `left lower lobe`, `lingula of the left lung`; undefined if side or lobe is not given. */
function placeOf({ side, lobe }: Case['lesion']): string | undefined {
  if (side === undefined || lobe === undefined) return undefined;
  return lobe === 'lingula' ? `lingula of the ${side} lung` : `${side} ${lobe} lobe`;
}

/** The facts of the case that the steps of the operation depend on. */
export function surgeryFacts(patientCase: Case, predicted: PredictedLungFunction = {}): Facts {
  const { lesion, patient, surgery } = patientCase;
  const leak = surgery.leakTest;
  return {
    'lesion.side': lesion.side,
    'lesion.lobe': lesion.lobe,
    'lesion.place': placeOf(lesion),
    'lesion.segments': lesion.segments,
    'lesion.systemic_feeders': listedStructures(patientCase)?.filter(
      (part) => part.role === 'systemic-feeder',
    ).length,
    'patient.pregnant': stated(patient.pregnant),
    'surgery.one_lung_ventilation': stated(surgery.oneLungVentilation),
    'surgery.leak_test': leak?.cmH2O,
    'surgery.leak_test_mmhg': leak && convert(leak.cmH2O, 'pressure', 'cmH2O', 'mmHg'),
    'surgery.leak_test_written': leak?.asWritten,
    'surgery.predicted_fev1': predicted.fev1Percent,
    'surgery.predicted_dlco': predicted.dlcoPercent,
  };
}
