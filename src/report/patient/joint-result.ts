import type { PatientResult } from '../../result/patient-result.js';
import type { Result, Vessel } from '../../result/result.generated.js';

const prefixed = <T>(id: string, map: Readonly<Record<string, T>>): Record<string, T> =>
  Object.fromEntries(Object.entries(map).map(([name, value]) => [`${id}/${name}`, value]));

/**
 * The lesions of a patient as one result, for the page in 3D: vessels, devices and closure under `LESION/NAME`. Parts that belong to one
 * lesion (sac, resection, print) are left out; they are in that lesion's plan.
 */
export function jointResult(
  result: PatientResult,
  plans: Readonly<Record<string, Result>>,
): Result | undefined {
  const [first] = Object.values(plans);
  if (first === undefined) return undefined;
  const vessels = Object.fromEntries(
    Object.entries(plans).flatMap(([id, plan]) =>
      Object.entries(prefixed(id, plan.vessels)).map(([name, vessel]): [string, Vessel] => [
        name,
        vessel.of === undefined ? vessel : { ...vessel, of: `${id}/${vessel.of}` },
      ]),
    ),
  );
  const { sac: _sac, resection: _resection, print: _print, urgent: _urgent, ...rest } = first;
  const { recommended, because } = result.advice;
  return {
    ...rest,
    case: result.patient,
    title: result.title,
    inputs: result.inputs,
    lesion: {},
    vessels,
    shunt: result.shunt,
    shunt_after: result.shunt_after,
    closure: result.closure,
    closure_order: result.closure_order,
    devices: result.devices,
    neighbours: [],
    readiness: {
      ...rest.readiness,
      recommended: recommended === 'both' ? 'discuss' : recommended,
      because,
    },
    checklist: result.checklist,
    findings: result.findings,
  };
}
