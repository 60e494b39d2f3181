import { isBleeding } from '../case/bleeding.js';
import type { Case } from '../case/case.js';
import { fixed } from '../foundation/number-text.js';
import { curacao } from '../plan/checklist-curacao.js';
import type { PatientResult } from '../result/patient-result.js';
import type { Rules } from '../rules/rule.js';
import type { LimitsInForce } from './session-limits.js';

/** The facts about the patient that the team needs, as plain texts; only the number of criteria is computed here. */
export interface PatientFacts {
  who: string;
  hht: string;
  question: string;
  oxygen: string[];
  circulation: string[];
  risks: string[];
  /** Facts that the file does not state, who can answer them, and by when. */
  unknowns: { what: string; who: string }[];
  team: { role: string; contact: string }[];
}

const yes = (answer: string | undefined): string => answer ?? 'not stated';

/** Collects the facts from the patient's blocks; texts from the file are not yet escaped. */
export function patientFacts(
  shared: Case,
  result: PatientResult,
  rules: Pick<Rules, 'byId'>,
  limits: Pick<LimitsInForce, 'patientContrastMl' | 'patientContrastFrom'>,
): PatientFacts {
  const { patient, blood, circulation } = shared;
  const { score, open, reading } = curacao(shared, rules);
  const has = (word: Case['patient']['history'][number]): boolean => patient.history.includes(word);
  const number = (what: string, value: number | undefined, digits: number, unit: string): string =>
    `${what} ${value === undefined ? 'not stated' : `${fixed(value, digits)} ${unit}`.trim()}`;
  const percent = (fraction: number | undefined): number | undefined =>
    fraction === undefined ? undefined : 100 * fraction;
  const { oximetry } = patient;
  const openLesions = Object.values(result.lesions).filter(({ state }) => state === 'open').length;
  const closed = Object.values(result.lesions).filter(({ state }) => state === 'closed').length;
  const unknowns: PatientFacts['unknowns'] = [];
  const ask = (isOpen: boolean, what: string, who: string): void => {
    if (isOpen) unknowns.push({ what, who });
  };
  ask(result.remainder === 'unknown', 'whether other lesions exist', 'radiologist, on the whole scan');
  ask(patient.ageYears === undefined, 'age', 'ward');
  ask(patient.allergies === undefined, 'allergies', 'ward');
  ask(
    patient.sex !== 'male' && (patient.pregnant === undefined || patient.pregnant === 'unknown'),
    'pregnancy',
    'ward',
  );
  ask(circulation.meanPaPressureMmHg === undefined, 'pulmonary artery pressure', 'cardiologist');
  ask(oximetry?.lyingFraction === undefined, 'saturation lying and standing', 'ward');
  ask(blood.haemoglobinGDl === undefined, 'haemoglobin', 'laboratory');
  ask(blood.ferritinUgL === undefined, 'iron', 'laboratory');
  ask(patient.egfrMlMin173 === undefined, 'kidneys (eGFR)', 'laboratory');
  ask(patient.bloodGroup === undefined, 'blood group', 'blood bank');
  ask(open > 0, `criteria of hereditary telangiectasia (${open} open)`, 'clinical geneticist');
  return {
    who: [
      patient.ageYears === undefined ? 'age not stated' : `${fixed(patient.ageYears, 0)} years`,
      patient.sex ?? 'sex not stated',
      patient.weightKg === undefined ? 'weight not stated' : `${fixed(patient.weightKg, 0)} kg`,
    ].join(', '),
    hht: `Hereditary telangiectasia ${reading}: ${score} of 4 criteria${open > 0 ? `, ${open} not answered` : ''}`,
    question: isBleeding(shared)
      ? 'Bleeding: which lesion is closed first, and with what?'
      : questionOf(openLesions, closed),
    oxygen: [
      `Saturation on air: ${number('lying', percent(oximetry?.lyingFraction), 0, '%')}, ${number('standing', percent(oximetry?.standingFraction), 0, '%')} (m)`,
      `${number('Haemoglobin', blood.haemoglobinGDl, 1, 'g/dL')} (m); ${number('ferritin', blood.ferritinUgL, 0, 'ug/L')}, ${number('transferrin saturation', percent(blood.transferrinSaturationFraction), 0, '%')} (m)`,
    ],
    circulation: [
      result.pulmonary_pressure?.text ??
        'No pulmonary artery pressure: echocardiography first, measure before the first device',
      `Liver malformation: ${has('liver-avm') ? 'yes' : 'not listed'}; heart failure: ${has('heart-failure') ? 'yes' : 'not listed'} (s)`,
    ],
    risks: [
      `Stroke, TIA or brain abscess in the history: ${['stroke', 'tia', 'brain-abscess'].some((word) => has(word as 'stroke')) ? 'yes' : 'not listed'} (s). Brain imaging before the first session where none is at hand (common practice, no source)`,
      `Pregnant: ${yes(patient.pregnant)} (s)`,
      `Anticoagulated: ${yes(patient.anticoagulated)}${patient.anticoagulant?.agent ? `, ${patient.anticoagulant.agent}` : ''} (s)`,
      `Allergies: ${patient.allergies === undefined ? 'not asked' : patient.allergies.join(', ') || 'none'} (s)`,
      `Kidneys: ${number('eGFR', patient.egfrMlMin173, 0, 'mL/min/1.73m2')} (s)${limits.patientContrastMl === undefined ? '' : `; smallest limit of contrast ${fixed(limits.patientContrastMl, 0)} mL, ${limits.patientContrastFrom} (d)`}`,
    ],
    unknowns,
    team: [...(shared.team ?? [])],
  };
}

function questionOf(open: number, closed: number): string {
  const already = closed > 0 ? ` ${closed} ${closed === 1 ? 'is' : 'are'} closed already.` : '';
  if (open === 0) return `No lesion is open.${already}`;
  return open === 1
    ? `When is the open lesion closed, and with what?${already}`
    : `Which of ${open} open lesions is closed when, and with what?${already}`;
}
