import { judge } from '../rules/condition.js';
import { numberOf, rulesOf } from '../rules/rule.js';
import { sourceText } from '../rules/source-text.js';
import { fillText } from '../rules/template.js';
import { type PlanInput, planFacts } from './readiness-facts.js';

/** The sheet for patient and relatives, as plain text; the report does layout and escaping. */
export interface CounsellingSheet {
  title: string;
  sections: { heading: string; sentences: string[] }[];
  /** Publications that support the sentences, each once, in order. */
  sources: string[];
}

/**
 * The plain-language sheet: sections in the order of the rules, each sentence only if its condition holds for this patient. The parent of
 * a child gets the sentence's `parent` text, if any. Numbers of the patient are given as the team's measurement, to be confirmed; a
 * sentence whose number is unknown is left out. Reading ease is checked by tests/plan/counselling.test.ts.
 */
export function counsellingSheet(input: PlanInput): CounsellingSheet {
  const { rules } = input;
  const facts = planFacts(input);
  const spoken = rulesOf(rules, 'sentence').filter((rule) => {
    if (rule.when === undefined) return true;
    const verdict = judge(rule.when, facts, (id) => numberOf(rules, id));
    return verdict === 'holds';
  });
  const headings = [...new Set(spoken.map((rule) => rule.section))];
  const toParent = facts['patient.child'] === 'yes';
  return {
    title: toParent
      ? "For parents: about the short cut in your child's lung"
      : 'About the short cut in your lung',
    sections: headings.map((heading) => ({
      heading,
      sentences: spoken
        .filter((rule) => rule.section === heading)
        .map((rule) => fillText((toParent && rule.parent) || rule.text, facts, rules.byId)),
    })),
    sources: [...new Set(spoken.map((rule) => sourceText(rule.source)))],
  };
}
