import { patientFacts } from '../../patient/patient-facts.js';
import { limitsInForce } from '../../patient/session-limits.js';
import type { CounsellingSheet } from '../../plan/counselling.js';
import { jointResult } from '../../report/patient/joint-result.js';
import { lungsFigure } from '../../report/patient/lungs-figure.js';
import { renderPatientPlan } from '../../report/patient/patient-plan.js';
import {
  renderPatientChecklist,
  renderPatientCounselling,
  renderPatientUrgent,
} from '../../report/patient/patient-sheets.js';
import { markerOf } from '../../report/proposal-mark.js';
import { counted } from '../../report/words.js';
import { patientProposalMark } from '../../result/proposal.js';
import type { PatientResult } from '../../result/patient-result.js';
import type { Result } from '../../result/result.generated.js';
import type { OutputFile } from '../output/output-list.js';
import type { MeasuredPatient } from './measure-patient.js';

/** The documents of a patient other than the plans of its lesions. */
export async function patientDocuments(
  measured: MeasuredPatient,
  plans: Readonly<Record<string, Result>>,
  sheets: readonly CounsellingSheet[],
  result: PatientResult,
): Promise<OutputFile[]> {
  const { shared } = measured.onDisk.patient;
  const { rules } = measured;
  const facts = patientFacts(shared, result, rules, limitsInForce(shared, false, rules));
  const marker = markerOf(patientProposalMark(result));
  const [lungs] = marker.figures([lungsFigure(result)]);
  const hour = renderPatientUrgent(result, plans);
  const urgent = hour === undefined ? undefined : marker.document(hour);
  const page = await pageOf(measured, plans, result, urgent);
  return [
    {
      path: 'patient.md',
      bytes: marker.document(renderPatientPlan(result, { facts, plans, figures: [lungs] })),
    },
    { path: 'checklist.md', bytes: marker.document(renderPatientChecklist(result)) },
    { path: 'counselling.md', bytes: marker.document(renderPatientCounselling(sheets, result)) },
    ...(urgent === undefined ? [] : [{ path: 'urgent.md', bytes: urgent }]),
    ...(page === undefined ? [] : [{ path: 'page.html', bytes: marker.page(page) }]),
    { path: `figures/${lungs.name}`, bytes: lungs.svg },
  ];
}

/** One 3D page with all lesions; undefined if their surfaces share no known frame. */
async function pageOf(
  { lesions }: MeasuredPatient,
  plans: Readonly<Record<string, Result>>,
  result: PatientResult,
  urgent: string | undefined,
): Promise<string | undefined> {
  const frames = new Set(lesions.map(({ measured }) => measured.case.surfaces?.frame ?? 'unknown'));
  const [frame] = frames;
  const joint = jointResult(result, plans);
  if (joint === undefined || frames.size > 1 || (frame === 'unknown' && lesions.length > 1)) return undefined;
  const { pageHtml } = await import('../../page/page-html.js');
  return pageHtml({
    result: joint,
    site: counted(Object.keys(result.lesions).length, 'lesion'),
    frame,
    views: [],
    structures: lesions.flatMap(({ id, measured }) =>
      measured.structures.map((one) => ({
        ...one,
        name: `${id}/${one.name}`,
        ...(one.of !== undefined && { of: `${id}/${one.of}` }),
      })),
    ),
    ...(urgent !== undefined && { urgent }),
  });
}
