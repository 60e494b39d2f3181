import { fixed } from '../foundation/number-text.js';
import type { ShrinkageReading } from '../plan/follow-up-shrinkage.js';
import type { Result } from '../result/result.generated.js';
import { numberOf, type Rules } from '../rules/rule.js';
import { sourceText } from '../rules/source-text.js';
import type { Course } from './feeders.js';

/** The outcome of a treatment, as far as scan and blood gases show it. */
export interface TreatmentOutcome {
  /** open: a feeding artery remains; closed: none remains, and shunt or shrinkage confirms it; doubtful: they contradict it. */
  reading: 'open' | 'closed' | 'doubtful' | 'not known';
  text: string;
}

/**
 * Determines the outcome of a treatment from the new scan (remaining feeding arteries), the shunt after it (rule `normal-shunt`) and the
 * shrinkage if the old scan is from before it. Undefined if no treatment is stated or the new case has no surfaces. Without a feeder on the
 * scan, and with neither shunt nor shrinkage, nothing is concluded: absence from the model is not proof.
 */
export function treatmentOutcome(
  now: Result,
  course: Course,
  shrinkage: ShrinkageReading | undefined,
  rules: Rules,
): TreatmentOutcome | undefined {
  const isMeasured = now.sac !== undefined || Object.keys(now.vessels).length > 0;
  if (course === 'untreated' || !isMeasured) return undefined;
  const open = Object.entries(now.vessels)
    .filter(([, { role }]) => role === 'feeder' || role === 'systemic-feeder')
    .map(([name]) => name);
  const named = now.lesion.feeder_count ?? 0;
  if (open.length > 0 || named > 0)
    return {
      reading: 'open',
      text: `Not closed: ${open.join(', ') || 'a feeding artery of the new case'} still feeds the sac on the new scan.`,
    };
  const limit = numberOf(rules, 'normal-shunt');
  const source = sourceText(rules.byId.get('normal-shunt')?.source ?? '');
  const percent = now.shunt_after?.fraction === undefined ? undefined : 100 * now.shunt_after.fraction;
  const isHigh = percent !== undefined && percent > limit;
  const shunt =
    percent === undefined
      ? 'the shunt after it is not known'
      : `the shunt after it ${percentWords(now.shunt_after, percent)}, ${isHigh ? `above the normal ${fixed(limit, 0)} %` : `where up to ${fixed(limit, 0)} % is normal`} (${source})`;
  const shrunk =
    shrinkage === undefined ? 'the shrinkage is not known' : `the shrinkage reads as ${shrinkage.reading}`;
  const against =
    isHigh || shrinkage?.reading === 'persistence likely' || shrinkage?.reading === 'indeterminate';
  const bearsOut =
    (percent !== undefined && !isHigh) ||
    shrinkage?.reading === 'closed' ||
    shrinkage?.reading === 'probably closed';
  const facts = `No feeding artery is left on the new scan, ${shunt}, and ${shrunk}`;
  if (against)
    return {
      reading: 'doubtful',
      text: `Doubtful: ${lower(facts)}. Look for a feeder that is open again below the resolution of the scan, for a systemic one, and for another lesion.`,
    };
  if (bearsOut)
    return {
      reading: 'closed',
      text: `Closed as far as can be told: ${lower(facts)}. Only an angiogram proves it.`,
    };
  return {
    reading: 'not known',
    text: `Not known: ${lower(facts)}. Absence from the model does not prove closure.`,
  };
}

/** `is 3.4 %`, or a statement that it cannot be distinguished from no shunt. */
const percentWords = (shunt: Result['shunt_after'], percent: number): string =>
  shunt?.upper_limit === undefined
    ? `is ${fixed(percent, 1)} %`
    : `cannot be told from none (at most ${fixed(100 * shunt.upper_limit, 1)} %)`;

const lower = (text: string): string => text[0].toLowerCase() + text.slice(1);
