import type { Finding } from '../foundation/finding.js';
import type { Result } from '../result/result.generated.js';
import type { FeederToClose, FitContext } from './feeder.js';
import { planDevices } from './plan-devices.js';

/**
 * Fits a device to one feeder: the window of the rules, the choice from the shelf with its unrounded oversize, and every other device as
 * an alternate or rejected with its reason. Never takes the nearest size if none fits.
 * Lengths mm; dates ISO. Without a shelf only the window is given.
 */
export function fitDevice(input: FitContext & { feeder: FeederToClose }): {
  device: Result['devices'][string];
  findings: Finding[];
} {
  const { feeder, ...context } = input;
  const { devices, findings } = planDevices([feeder], context);
  return { device: devices[feeder.name], findings };
}
