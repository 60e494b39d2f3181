import type { Case } from '../case/case.js';
import { fixed } from '../foundation/number-text.js';
import type { Facts } from '../rules/facts.js';
import { numberOf, type Rules } from '../rules/rule.js';
import { contrastLimits } from './checklist-contrast.js';
import { haemoglobinReading } from './haemoglobin.js';

/** The facts that depend on size, age, sex and pregnancy: contrast, haemoglobin, blood to have ready. */
export function bodyFacts(patientCase: Case, rules: Rules): Facts {
  const contrast = contrastLimits(patientCase.patient, rules);
  const ordered = [...contrast.limits].sort((a, b) => a.limitMl - b.limitMl);
  const haemoglobin = haemoglobinReading(patientCase, rules);
  return {
    // A limit is rounded down, never up.
    'contrast.smallest': ordered.length === 0 ? undefined : Math.floor(ordered[0].limitMl),
    'contrast.smallest_name': ordered[0]?.name,
    'contrast.all':
      ordered.length === 0
        ? undefined
        : ordered.map(({ name, limitMl }) => `${name} ${fixed(Math.floor(limitMl), 0)} mL`).join(', '),
    'contrast.filtration': contrast.filtrationMlMin,
    'contrast.notes': contrast.notes.map((note) => `; ${note}`).join(''),
    'haemoglobin.low_limit': haemoglobin?.lowGDl,
    'haemoglobin.high_limit': haemoglobin?.highGDl,
    'haemoglobin.group': haemoglobin?.group,
    'haemoglobin.reading': haemoglobin?.reading,
    'blood.order': bloodOrder(patientCase.patient, rules),
  };
}

/** Blood to be crossmatched: units for an adult, mL/kg for a child; both if the age is not stated. */
function bloodOrder({ ageYears, weightKg }: Case['patient'], rules: Rules): string {
  const of = (id: string): number => numberOf(rules, id);
  const units = `${of('blood-units-low')} to ${of('blood-units-high')} units`;
  const [low, high] = [of('blood-child-low'), of('blood-child-high')];
  const perKg = `${low} to ${high} mL/kg`;
  if (ageYears === undefined) return `${units} (adult) or ${perKg} (child; the age is not stated)`;
  if (ageYears >= of('blood-adult-from-age')) return units;
  if (weightKg === undefined) return `${perKg} (the weight is not stated)`;
  return `${perKg}, that is ${fixed(low * weightKg, 0)} to ${fixed(high * weightKg, 0)} mL at ${fixed(weightKg, 0)} kg`;
}
