import { fixed } from '../foundation/number-text.js';
import type { Result } from '../result/result.generated.js';
import { numberOf, type Rules } from '../rules/rule.js';
import { sourceText } from '../rules/source-text.js';
import type { VesselMatch } from './match-vessels.js';

/** Whether a treatment is between, before or after the two scans. */
export type Course = 'untreated' | 'treated-between' | 'treated-before';

/** A feeder that appeared, disappeared, or stayed open after a treatment. */
export interface FeederChange {
  name: string;
  what: 'new' | 'back' | 'gone' | 'still-open';
  text: string;
}

/** Feeders that appeared, disappeared or stayed open, in words; `matches` from `matchVessels`. */
export function feederChanges(
  old: Result,
  now: Result,
  matches: readonly VesselMatch[],
  course: Course,
  rules: Rules,
): FeederChange[] {
  const changes: FeederChange[] = [];
  const mechanism = mechanismText(rules);
  for (const { role, oldName, newName } of matches) {
    if (role !== 'feeder' && role !== 'systemic-feeder') continue;
    const kind = role === 'feeder' ? 'feeding artery' : 'systemic feeding artery';
    const calibre = (result: Result, name: string): string =>
      `${fixed(result.vessels[name].calibre_mm.mean, 1)} mm mean calibre`;
    if (oldName === undefined && newName !== undefined) {
      changes.push(
        arrived(newName, `${kind}, ${calibre(now, newName)}`, role === 'feeder', course, mechanism),
      );
    } else if (newName === undefined && oldName !== undefined) {
      const text =
        course === 'untreated'
          ? `${oldName} (${kind}, ${calibre(old, oldName)}) is no longer seen, and no treatment between the scans is stated. Look for it on the images: it may have been left out of the segmentation.`
          : `${oldName} (${kind}, ${calibre(old, oldName)}) is no longer seen: closed, or too thin for the scan. Absence from the model does not prove closure.`;
      changes.push({ name: oldName, what: 'gone', text });
    } else if (oldName !== undefined && course === 'treated-between') {
      changes.push({
        name: oldName,
        what: 'still-open',
        text: `${oldName} (${kind}, ${calibre(now, newName as string)}) still carries blood after the treatment: recanalised through its device, or never closed. ${mechanism}`,
      });
    }
  }
  return changes;
}

function arrived(
  name: string,
  what: string,
  pulmonary: boolean,
  course: Course,
  mechanism: string,
): FeederChange {
  if (course === 'untreated')
    return {
      name,
      what: 'new',
      text: `${name} (${what}) was not in the old plan: it grew, or it was missed. Look for it on the old images.`,
    };
  const back = course === 'treated-before' && pulmonary;
  const how = back
    ? 'carries blood again: recanalised through its device, or reperfused from a neighbour'
    : pulmonary
      ? 'was not in the old plan and feeds the sac after the treatment: reperfused from a neighbouring branch, or missed before'
      : 'was not in the old plan and feeds the sac after the treatment: a systemic collateral';
  return { name, what: back ? 'back' : 'new', text: `${name} (${what}) ${how}. ${mechanism}` };
}

function mechanismText(rules: Rules): string {
  const source = rules.byId.get('persistence-recanalised')?.source ?? '';
  const through = fixed(numberOf(rules, 'persistence-recanalised'), 0);
  const around = fixed(numberOf(rules, 'persistence-reperfused'), 0);
  return `Among persistent lesions ${through} % were recanalised and ${around} % reperfused from neighbours (${sourceText(source)}).`;
}
