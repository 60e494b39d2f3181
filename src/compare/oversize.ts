import { oversizeFraction, windowMm } from '../devices/device-window.js';
import { fixed } from '../foundation/number-text.js';
import type { Result } from '../result/result.generated.js';
import type { Rules } from '../rules/rule.js';

/** A device of the old plan whose fit has changed on the new scan. */
export interface OversizeChange {
  feeder: string;
  code: string;
  oldPercent?: number;
  newPercent: number;
  left: 'window' | 'interval';
  text: string;
}

/**
 * Every device of the old plan whose oversize on the new landing calibre is outside the window of its kind or outside the 95 % interval
 * in the old plan. Vessels have the same names in both results. A device sized by its instructions for use has no window here.
 */
export function oversizeChanges(old: Result, now: Result, rules: Rules): OversizeChange[] {
  return Object.entries(old.devices).flatMap(([feeder, device]): OversizeChange[] => {
    const { code, kind, diameter_mm: diameterMm, rule, oversize_interval_percent: interval } = device;
    const vessel = Object.hasOwn(now.vessels, feeder) ? now.vessels[feeder] : undefined;
    const calibreMm = vessel?.landing?.calibre_mm;
    if (code === undefined || kind === undefined || diameterMm === undefined || calibreMm === undefined)
      return [];
    const newPercent = 100 * oversizeFraction(diameterMm, calibreMm);
    const window =
      rule !== undefined && rules.byId.get(rule)?.kind === 'window'
        ? windowMm(kind, calibreMm, rules).map((edge) => 100 * oversizeFraction(edge, calibreMm))
        : undefined;
    const isOutside = (range: readonly number[] | undefined): boolean =>
      range !== undefined && (newPercent < range[0] - SLACK || newPercent > range[1] + SLACK);
    const left = isOutside(window) ? 'window' : isOutside(interval) ? 'interval' : undefined;
    if (left === undefined) return [];
    const range = (left === 'window' ? window : interval) as readonly number[];
    const which = left === 'window' ? 'its window of' : 'the interval of the old plan,';
    return [
      {
        feeder,
        code,
        ...(device.oversize_percent !== undefined && { oldPercent: device.oversize_percent }),
        newPercent,
        left,
        text: `${code}, chosen for ${feeder}, is ${fixed(newPercent, 1)} % over the calibre on the new scan, outside ${which} ${fixed(range[0], 1)} to ${fixed(range[1], 1)} %`,
      },
    ];
  });
}

/** Rounding error of the printed numbers, percentage points. */
const SLACK = 1e-6;
