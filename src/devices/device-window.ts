import type { DeviceKind, ShelfDevice } from '../case/case.js';
import type { Fraction, Mm } from '../foundation/unit-types.js';
import { judge } from '../rules/condition.js';
import { numberOf, type Rules, rulesOf, type WindowRule } from '../rules/rule.js';

/** Relative tolerance for comparing computed numbers: 6 x 1.3 is 7.800000000000001. Far below any difference in size. */
const SLACK = 1e-9;

export const atLeast = (a: number, b: number): boolean => a >= b - Math.abs(b) * SLACK;

/** Oversize of a device over a calibre, both mm, as a fraction: (device - calibre) / calibre. */
export function oversizeFraction(diameterMm: Mm, calibreMm: Mm): Fraction {
  return (diameterMm - calibreMm) / calibreMm;
}

/** Device kinds for a landing calibre, mm, in order of preference. Kinds that no rule names come last. */
export function kindOrder(calibreMm: Mm, rules: Rules): DeviceKind[] {
  const facts = { 'feeder.calibre': calibreMm };
  const rule = rulesOf(rules, 'order').find(
    (entry) => judge(entry.when, facts, (id) => numberOf(rules, id)) === 'holds',
  );
  const all = rulesOf(rules, 'window').map((entry) => entry.for as DeviceKind);
  const named = (rule?.kinds ?? []) as DeviceKind[];
  return [...new Set([...named, ...all])];
}

/**
 * The window rule of a device kind.
 * Throws RangeError for a kind without one: an internal defect, since every kind has a built-in window.
 */
function windowRule(kind: DeviceKind, rules: Rules): WindowRule {
  const found = rulesOf(rules, 'window').filter((rule) => rule.for === kind);
  const rule = found.at(-1);
  if (rule === undefined) throw new RangeError(`no window rule for ${kind}`);
  return rule;
}

/** Device diameters, mm, that the kind's rule asks for over a landing calibre, mm. */
export function windowMm(kind: DeviceKind, calibreMm: Mm, rules: Rules): [Mm, Mm] {
  const rule = windowRule(kind, rules);
  return [rule.low * calibreMm, rule.high * calibreMm];
}

/** Whether one device fits a calibre, and by which rule. */
export interface SizeVerdict {
  fits: 'yes' | 'too-small' | 'too-large';
  /** `window-vascular-plug`, or `instructions for use of CODE`. */
  rule: string;
  source: string;
  /** Vessel calibres that the device fits, mm. */
  vesselMm: [Mm, Mm];
  byInstructions: boolean;
}

/**
 * Judges one device against a landing calibre (mm) with unrounded numbers. The vessel range in the device's instructions for use replaces
 * the kind's window; if the shelf gives only one end, the window still limits the other.
 */
export function judgeSize(device: ShelfDevice, calibreMm: Mm, rules: Rules): SizeVerdict {
  const window = windowRule(device.kind, rules);
  const byInstructions = device.vesselMinMm !== undefined || device.vesselMaxMm !== undefined;
  const vesselMm: [Mm, Mm] = [
    device.vesselMinMm ?? device.diameterMm / window.high,
    device.vesselMaxMm ?? device.diameterMm / window.low,
  ];
  const fits = !atLeast(calibreMm, vesselMm[0])
    ? 'too-large'
    : !atLeast(vesselMm[1], calibreMm)
      ? 'too-small'
      : 'yes';
  return {
    fits,
    rule: byInstructions ? `instructions for use of ${device.code}` : window.id,
    source: byInstructions ? 'vessel range of the shelf file' : window.source,
    vesselMm,
    byInstructions,
  };
}
