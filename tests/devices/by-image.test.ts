import { describe, expect, it } from 'vitest';
import { planDevices } from '../../src/devices/plan-devices.js';
import { loadRules } from '../../src/rules/load-rules.js';

const rules = loadRules();
const plug = (diameterMm: number) => ({
  code: `PLUG-${diameterMm}`,
  kind: 'vascular-plug' as const,
  diameterMm,
  lengthMm: 7,
  inStock: 2,
  leadTimeDays: 10,
  nickel: false,
});
const shelf = { devices: [6, 7, 8, 9, 10].map(plug) } as never;

function deviceAt(imageCalibreMm: number | undefined) {
  const feeder = {
    name: 'A1',
    calibreMm: 6.2,
    calibreIntervalMm: [6.15, 6.25] as [number, number],
    zoneLengthMm: 20,
  };
  const { devices, findings } = planDevices([{ ...feeder, imageCalibreMm }], { shelf, allergies: [], rules });
  return { device: devices.A1, ids: findings.map(({ id }) => id) };
}

describe('a calibre from the scan that disagrees with the surface', () => {
  it('is none where scan and surface agree', () => {
    const { device, ids } = deviceAt(undefined);
    expect(device).toMatchObject({ code: 'PLUG-9', borderline: false });
    expect(device.by_image).toBeUndefined();
    expect(ids).not.toContain('device-borderline');
  });
  it('is given as well, and is borderline where it means another device', () => {
    // 40 % over 5.7 mm is 8 mm, over 6.2 mm 9 mm: the middle of the window of 30 to 50 %
    const { device, ids } = deviceAt(5.7);
    expect(device.code).toBe('PLUG-9');
    expect(device.by_image).toEqual({
      calibre_mm: 5.7,
      code: 'PLUG-8',
      diameter_mm: 8,
      oversize_percent: expect.closeTo(40.35, 2),
    });
    expect(device.borderline).toBe(true);
    expect(device.borderline_because).toMatch(/PLUG-9 .* by the surface; at 5\.70 mm PLUG-8 .* by the scan/);
    expect(ids).toContain('device-borderline');
  });
  it('is not borderline where the same device suits both', () => {
    const { device } = deviceAt(6.45);
    expect(device).toMatchObject({ borderline: false, by_image: { code: 'PLUG-9' } });
  });
  it('names none where no device on the shelf fits it', () => {
    const { device } = deviceAt(9);
    expect(device.by_image).toEqual({ calibre_mm: 9 });
    expect(device.borderline_because).toMatch(/at 9\.00 mm none by the scan/);
  });
});
