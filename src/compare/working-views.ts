import { fixed } from '../foundation/number-text.js';
import { dot, type Vec3 } from '../foundation/vector.js';
import { armText } from '../report/words.js';
import type { Result } from '../result/result.generated.js';
import { numberOf, type Rules } from '../rules/rule.js';
import type { DecisionChange } from './decisions.js';

type View = { lao_rao_deg: number; cran_caud_deg: number };

/** Working views of the feeders that turned beyond the rule `turned-view`, appeared or disappeared; vessels have the same names. */
export function viewChanges(old: Result, now: Result, rules: Pick<Rules, 'byId'>): DecisionChange[] {
  return Object.entries(old.vessels).flatMap(([name, { landing: a }]): DecisionChange[] => {
    const b = Object.hasOwn(now.vessels, name) ? now.vessels[name].landing : undefined;
    if (a === undefined || b === undefined) return [];
    const change = {
      what: `working view for ${name}`,
      old: text(a.view),
      new: text(b.view),
      changesPlan: false,
    };
    if (a.view === undefined || b.view === undefined) {
      if (a.view === b.view) return [];
      const because = [a.view_absent_because, b.view_absent_because].flatMap((one) => one ?? []);
      return [{ ...change, because, caution: `${change.what}: ${change.old} to ${change.new}` }];
    }
    const turned = angleDeg(a.view, b.view);
    if (turned <= numberOf(rules, 'turned-view')) return [];
    const by = `turned by ${fixed(turned, 0)}°`;
    return [
      {
        ...change,
        because: [by],
        caution: `the working view for ${name} ${by}, from ${change.old} to ${change.new}`,
      },
    ];
  });
}

const text = (view: View | undefined): string => (view ? armText(view) : 'none');

/** Angle between two positions of the C-arm, degrees; directions as in `workingView`. */
function angleDeg(a: View, b: View): number {
  const direction = ({ lao_rao_deg, cran_caud_deg }: View): Vec3 => {
    const [lao, cran] = [lao_rao_deg, cran_caud_deg].map((deg) => (deg * Math.PI) / 180);
    return [Math.sin(lao) * Math.cos(cran), -Math.cos(lao) * Math.cos(cran), Math.sin(cran)];
  };
  return (Math.acos(Math.min(1, Math.max(-1, dot(direction(a), direction(b))))) * 180) / Math.PI;
}
