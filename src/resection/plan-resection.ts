import { listedStructures } from '../case/listed-structures.js';
import type { Case } from '../case/case.js';
import type { Finding } from '../foundation/finding.js';
import { finding } from '../foundation/finding.js';
import { fixed } from '../foundation/number-text.js';
import type { LesionMeasure } from '../geometry/measure.js';
import { lobesOf, segmentNames } from '../physiology/lung-segments.js';
import { countResection, type ResectionCount } from '../physiology/resection-count.js';
import type { Result } from '../result/result.generated.js';
import { judge } from '../rules/condition.js';
import type { Facts } from '../rules/facts.js';
import { numberOf, type Rules, rulesOf } from '../rules/rule.js';
import { sourceText } from '../rules/source-text.js';
import { fillText } from '../rules/template.js';
import { leakTest } from './leak-test.js';
import { sparingFindings, sparingMargin } from './lung-sparing.js';
import { clampRoom, spareBranches } from './spare-branches.js';
import { type PredictedLungFunction, surgeryFacts } from './surgery-facts.js';

type Resection = NonNullable<Result['resection']>;

export interface ResectionInput {
  case: Case;
  lesion?: LesionMeasure;
  rules: Rules;
  /** Selects the steps for poor lung function; the caller fills in the numbers. */
  lungFunction?: PredictedLungFunction;
  /** What the operation resects; default: counted from the case. */
  count?: ResectionCount | { absentBecause: string };
}

/**
 * Plan B: the steps of the operation that the case requests (the lobe, two lobes of the right lung, segments, a wedge), what to keep, the
 * room for clamps, the leak test in both units, and, for less than a lobe, the margin that the surfaces show. If the extent is unknown
 * there are no steps, and `absent_because` says why.
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
  const { surgery } = input.case;
  if (
    side === undefined ||
    (lobe === undefined && (surgery.extent ?? 'lobe') === 'lobe' && !surgery.segments)
  )
    return absent('the case does not give side and lobe of the lesion');
  const count = input.count ?? countResection(input.case.lesion, surgery);
  if ('absentBecause' in count) return absent(count.absentBecause);
  const site = siteOf(count, lobe);
  if (site === undefined) return absent(`${count.what} is a whole lung, for which no steps are kept`);
  findings.push(...clampRoom(lesion, rules));
  const onSite = (rule: { lobes: string[]; sides: string[] }): boolean =>
    rule.lobes.includes(site) && rule.sides.includes(side);
  const facts: Facts = {
    ...surgeryFacts(input.case, input.lungFunction),
    'resection.taken': segmentNames(side, count.taken),
  };
  const steps = rulesOf(rules, 'step')
    .filter((rule) => onSite(rule))
    .filter(
      (rule) => rule.when === undefined || judge(rule.when, facts, (id) => numberOf(rules, id)) === 'holds',
    )
    .map((rule) => {
      const view = comesIntoView(rule.see, input.case, lesion);
      return {
        id: rule.id,
        stage: rule.stage,
        text: fillText(rule.text, facts, rules.byId),
        ...(view.length > 0 && {
          see: view.map(({ text }) => text).join('; '),
          shows: [...new Set(view.map(({ name }) => name))],
        }),
        source: sourceText(rule.source),
      };
    });
  const atStake = rulesOf(rules, 'keep')
    .filter((rule) => onSite(rule))
    .map(({ name, text, source }) => ({ name, text, source: sourceText(source) }));
  const sparing = count.extent !== 'lobe';
  if (sparing) findings.push(...sparingFindings(input.case, lesion, count, rules));
  return {
    resection: {
      ...(lobe && { lobe }),
      procedure: procedureName(count, site),
      extent: count.extent,
      segments: count.taken,
      ...(sparing && { margin: sparingMargin(input.case, lesion, count, rules) }),
      ...base,
      at_stake: atStake,
      steps,
    },
    findings,
  };
}

/** The key of the steps: a lobe, two lobes, `segments` or `wedge`; undefined for a whole lung. */
function siteOf(count: ResectionCount, lobe: string | undefined): string | undefined {
  if (count.extent === 'wedge') return 'wedge';
  if (count.extent === 'lobe') return lobe;
  const lobes = lobesOf(count.side, count.taken);
  if (lobes.some(({ whole }) => !whole)) return 'segments';
  if (lobes.length === 1) return lobes[0].lobe;
  const joined = lobes.map((entry) => entry.lobe).join('-');
  if (joined === 'upper-middle' || joined === 'middle-lower') return joined;
  return lobes.length === (count.side === 'right' ? 3 : 2) && !joined.includes('lingula')
    ? undefined
    : 'segments';
}

/** `right lower lobectomy`, `left lingulectomy`, `right upper and middle bilobectomy`, `segmentectomy of S8, left lung`. */
function procedureName({ side, taken }: ResectionCount, site: string): string {
  const names = segmentNames(side, taken).join(', ');
  if (site === 'wedge') return `wedge resection in ${names}, ${side} lung`;
  if (site === 'segments') return `segmentectomy of ${names}, ${side} lung`;
  if (site === 'lingula') return `${side} lingulectomy (segments S4 and S5)`;
  if (site.includes('-')) return `${side} ${site.replace('-', ' and ')} bilobectomy (${names})`;
  return `${side} ${site} lobectomy`;
}

/** A structure that a step brings into view, with its description. */
interface InView {
  name: string;
  text: string;
}

/** Structures of the model that a step brings into view, with their calibres. */
function comesIntoView(
  roles: readonly string[],
  patientCase: Case,
  lesion: LesionMeasure | undefined,
): InView[] {
  if (lesion === undefined) return [];
  return roles.flatMap((role): InView[] => {
    if (role === 'sac') {
      const { sac } = lesion;
      if (sac === undefined) return [];
      return [{ name: 'sac', text: `sac ${fixed(sac.volumeMl, 1)} mL, ${fixed(sac.longestMm, 0)} mm long` }];
    }
    if (role === 'landing')
      return lesion.vessels.flatMap(({ name, landing }) =>
        landing === undefined
          ? []
          : [{ name, text: `landing zone of ${name}: ${fixed(landing.lengthMm, 1)} mm long` }],
      );
    if (role === 'airway')
      return (listedStructures(patientCase) ?? [])
        .filter((part) => part.role === 'airway')
        .map(({ name }) => ({ name, text: name }));
    return vesselsInView(role, lesion);
  });
}

function vesselsInView(role: string, lesion: LesionMeasure): InView[] {
  const own = lesion.vessels
    .filter((vessel) => vessel.role === role)
    .map(({ name, landing, calibreMm }) => ({
      name,
      text: `${name}: ${fixed(landing?.calibreMm ?? calibreMm.mean, 1)} mm`,
    }));
  if (role !== 'branch') return own;
  const measured = new Set(own.map(({ name }) => name));
  const openings = lesion.vessels.flatMap((vessel) =>
    vessel.branches
      .filter((branch) => !measured.has(branch.name))
      .map(({ name, calibreMm }) => {
        const calibre = calibreMm === undefined ? 'calibre not measured' : `${fixed(calibreMm, 1)} mm`;
        return { name, text: `${name} (from ${vessel.name}): ${calibre}` };
      }),
  );
  return [...own, ...openings];
}
