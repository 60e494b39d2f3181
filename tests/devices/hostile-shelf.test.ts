import { expect, it } from 'vitest';
import { planDevices } from '../../src/devices/plan-devices.js';
import { context, plug } from './make.js';

it('a shelf with far too many combinations is answered in a bounded number of steps', () => {
  let looks = 0;
  const shelf = Array.from({ length: 400 }, (_, i) => {
    const device = plug(8 + i / 1000);
    return Object.defineProperty(device, 'code', {
      enumerable: true,
      get: () => {
        looks++;
        return `P${i}`;
      },
    });
  });
  const feeders = Array.from({ length: 20 }, (_, i) => ({ name: `A${i}`, calibreMm: 6, zoneLengthMm: 20 }));
  const plan = planDevices(feeders, context(shelf));
  // two searches of 400 000 steps, each looking at the up to 21 options of one feeder
  expect(looks).toBeLessThan(2 * 400_000 * 21);
  expect(plan.findings.map(({ id }) => id)).toContain('allocation-not-proven-best');
  const codes = feeders.map(({ name }) => plan.devices[name].code);
  expect(new Set(codes).size).toBe(20);
});
