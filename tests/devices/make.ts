import type { Shelf, ShelfDevice } from '../../src/case/case.js';
import type { FitContext } from '../../src/devices/feeder.js';
import { loadRules } from '../../src/rules/load-rules.js';

const RULES = loadRules();

/** A plug of a diameter, mm, with one piece in stock unless stated otherwise. */
export function plug(diameterMm: number, more: Partial<ShelfDevice> = {}): ShelfDevice {
  return {
    code: `PLUG-${diameterMm}`,
    kind: 'vascular-plug',
    diameterMm,
    inStock: 1,
    leadTimeDays: 21,
    nickel: 'yes',
    ...more,
  };
}

export function coil(diameterMm: number, more: Partial<ShelfDevice> = {}): ShelfDevice {
  return {
    code: `COIL-${diameterMm}`,
    kind: 'detachable-coil',
    diameterMm,
    lengthMm: 300,
    inStock: 6,
    leadTimeDays: 3,
    nickel: 'no',
    ...more,
  };
}

export function context(devices: ShelfDevice[] | undefined, more: Partial<FitContext> = {}): FitContext {
  const shelf: Shelf | undefined = devices && { devices };
  return { ...(shelf && { shelf }), today: '2026-03-20', rules: RULES, ...more };
}
