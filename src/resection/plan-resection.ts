import type { Case } from '../case/case.js';
import type { Finding } from '../foundation/finding.js';
import { finding } from '../foundation/finding.js';
import { fixed } from '../foundation/number-text.js';
import type { LesionMeasure } from '../geometry/measure.js';
import type { Result } from '../result/result.generated.js';
import { judge } from '../rules/condition.js';
import { numberOf, type Rules, rulesOf } from '../rules/rule.js';
import { sourceText } from '../rules/source-text.js';
import { fillText } from '../rules/template.js';
import { leakTest } from './leak-test.js';
import { clampRoom, spareBranches } from './spare-branches.js';
import { type PredictedLungFunction, surgeryFacts } from './surgery-facts.js';

type Resection = NonNullable<Result['resection']>;

export interface ResectionInput {
  case: Case;
  lesion?: LesionMeasure;
  rules: Rules;
  /** Switches the steps for poor lung function; the numbers themselves are filled in by the caller. */
  lungFunction?: PredictedLungFunction;
}

/**
 * Plan B: the steps of the operation for the lobe and side of the case, what to keep, the room for clamps, the leak
 * test in both units. Without side or lobe there are no steps and `absent_because` says so.
 */
export function planResection(input: ResectionInput): { resection: Resection; findings: Finding[] } {
  const { rules, lesion } = input;
  const { side, lobe } = input.case.lesion;
  const { spare, findings } = spareBranches(input.case, lesion);
  const base: Resection = { spare, steps: [] };
  if (input.case.surgery.leakTest !== undefined) {
    const leak = leakTest(input.case.surgery.leakTest, rules);
    base.leak_test = leak.leakTest;
    findings.push(...leak.findings);
  }
  const absent = (because: string): { resection: Resection; findings: Finding[] } => {
    findings.push(
      finding('caution', 'resection-not-planned', 'lesion', `No steps of an operation: ${because}.`),
    );
    return { resection: { ...base, ...(lobe && { lobe }), absent_because: because }, findings };
  };
  if (side === undefined || lobe === undefined)
    return absent('the case does not give side and lobe of the lesion');
  const procedure = procedureName(side, lobe);
  if (procedure === undefined) return absent(`there is no ${lobe} lobe on the ${side} side`);
  findings.push(...clampRoom(lesion, rules));
  const onSite = (rule: { lobes: string[]; sides: string[] }): boolean =>
    rule.lobes.includes(lobe) && rule.sides.includes(side);
  const facts = surgeryFacts(input.case, input.lungFunction);
  const steps = rulesOf(rules, 'step')
    .filter((rule) => onSite(rule))
    .filter(
      (rule) => rule.when === undefined || judge(rule.when, facts, (id) => numberOf(rules, id)) === 'holds',
    )
    .map((rule) => {
      const see = comesIntoView(rule.see, input.case, lesion);
      return {
        id: rule.id,
        stage: rule.stage,
        text: fillText(rule.text, facts, rules.byId),
        ...(see && { see }),
        source: sourceText(rule.source),
      };
    });
  const atStake = rulesOf(rules, 'keep')
    .filter((rule) => onSite(rule))
    .map(({ name, text, source }) => ({ name, text, source: sourceText(source) }));
  return { resection: { lobe, procedure, ...base, at_stake: atStake, steps }, findings };
}

/** `right lower lobectomy`, `left lingulectomy`; undefined for a lobe the side does not have. */
function procedureName(side: 'left' | 'right', lobe: string): string | undefined {
  if (lobe === 'lingula') return side === 'left' ? 'left lingulectomy (segments S4 and S5)' : undefined;
  if (lobe === 'middle' && side === 'left') return undefined;
  return `${side} ${lobe} lobectomy`;
}

/** Structures of the model that a step brings into view, with their calibres; undefined where none was measured. */
function comesIntoView(
  roles: readonly string[],
  theCase: Case,
  lesion: LesionMeasure | undefined,
): string | undefined {
  if (lesion === undefined) return undefined;
  const seen: string[] = [];
  for (const role of roles) {
    if (role === 'sac' && lesion.sac !== undefined) {
      seen.push(`sac: ${fixed(lesion.sac.volumeMl, 1)} mL, ${fixed(lesion.sac.longestMm, 0)} mm long`);
    } else if (role === 'landing') {
      for (const { name, landing } of lesion.vessels) {
        if (landing === undefined) continue;
        seen.push(
          `landing zone of ${name}: ${fixed(landing.calibreMm, 1)} mm calibre, ${fixed(landing.lengthMm, 1)} mm long`,
        );
      }
    } else if (role === 'airway') {
      for (const part of theCase.surfaces?.parts ?? []) if (part.role === 'airway') seen.push(part.name);
    } else {
      seen.push(...vesselsInView(role, lesion));
    }
  }
  return seen.length === 0 ? undefined : seen.join('; ');
}

function vesselsInView(role: string, lesion: LesionMeasure): string[] {
  const own = lesion.vessels
    .filter((vessel) => vessel.role === role)
    .map((vessel) => `${vessel.name}: ${fixed(vessel.landing?.calibreMm ?? vessel.calibreMm.mean, 1)} mm`);
  if (role !== 'branch') return own;
  const measured = new Set(
    lesion.vessels.filter((vessel) => vessel.role === 'branch').map((vessel) => vessel.name),
  );
  const openings = lesion.vessels.flatMap((vessel) =>
    vessel.branches
      .filter((branch) => !measured.has(branch.name))
      .map((branch) => {
        const calibre =
          branch.calibreMm === undefined ? 'calibre not measured' : `${fixed(branch.calibreMm, 1)} mm`;
        return `${branch.name} (from ${vessel.name}): ${calibre}`;
      }),
  );
  return [...own, ...openings];
}
