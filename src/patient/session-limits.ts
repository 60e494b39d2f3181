import type { Case } from '../case/case.js';
import { contrastLimits } from '../plan/checklist-contrast.js';
import { numberOf, type Rules } from '../rules/rule.js';
import type { ContrastUse, SessionLimits } from './sessions.js';

/** The limits of a session, and where they come from. */
export interface LimitsInForce extends SessionLimits {
  contrastFrom?: string;
  patientContrastFrom?: string;
  gapDays: number;
  gapBinds: boolean;
}

/**
 * Limits are binding if written in the file; for contrast, the smaller of the hospital's limit and the patient's. Anything else is a
 * preference and adds no session. A bleed or a pregnancy overrides the preferred time between sessions.
 */
export function limitsInForce(
  { planned, patient }: Pick<Case, 'planned' | 'patient'>,
  isUrgent: boolean,
  rules: Pick<Rules, 'byId'>,
): LimitsInForce {
  const { session } = planned;
  // whole mL, rounded down: a limit is never rounded up
  const [smallest] = contrastLimits(patient, rules)
    .limits.map(({ name, limitMl }) => ({ name, limitMl: Math.floor(limitMl) }))
    .sort((a, b) => a.limitMl - b.limitMl);
  const hospital = session?.contrastLimitMl;
  const isPatients = hospital !== undefined && smallest !== undefined && smallest.limitMl < hospital;
  return {
    ...(hospital !== undefined && {
      contrastMl: isPatients ? smallest.limitMl : hospital,
      contrastOf: isPatients ? 'patient' : 'hospital',
      contrastFrom: isPatients ? smallest.name : 'planned.session.contrast_limit',
    }),
    ...(smallest && { patientContrastMl: smallest.limitMl, patientContrastFrom: smallest.name }),
    oneLung: session?.oneLung === true,
    ...(session?.mostFeeders !== undefined && { mostFeeders: session.mostFeeders }),
    gapDays: session?.gapDays ?? (isUrgent ? 0 : numberOf(rules, 'session-gap')),
    gapBinds: session?.gapDays !== undefined,
  };
}

/** Contrast for each lung and each feeder of a session, mL. */
export const contrastUse = (rules: Pick<Rules, 'byId'>): ContrastUse => ({
  lung: [numberOf(rules, 'session-contrast-lung-low'), numberOf(rules, 'session-contrast-lung-high')],
  feeder: [numberOf(rules, 'session-contrast-feeder-low'), numberOf(rules, 'session-contrast-feeder-high')],
});
