import type { ShelfDevice } from '../case/case.js';
import { fixed, rounded } from '../foundation/number-text.js';
import type { Mm, Percent } from '../foundation/unit-types.js';
import { numberOf, type Rules } from '../rules/rule.js';
import {
  atLeast,
  judgeSize,
  kindOrder,
  oversizeFraction,
  type SizeVerdict,
  windowMm,
} from './device-window.js';
import type { FeederToClose, FitContext } from './feeder.js';
import { coilsForDensity, packingDensityPercent, stretchVolumeMm3 } from './packing.js';

/** A device on the shelf that may close the feeder. */
export interface Candidate {
  device: ShelfDevice;
  size: SizeVerdict;
  oversize: number;
  /** Pieces needed: one plug, or the estimated number of coils; absent if a coil's length is unknown. */
  count?: number;
  packingPercent?: Percent;
  /** Rank of its kind in the order of preference, from 0. */
  kindRank: number;
  /** Distance of the oversize from the middle of the window, in half widths of the window: 0 middle, 1 edge. */
  offMiddle: number;
  /** The patient has a nickel allergy and the shelf file does not state the device's nickel. */
  nickelDoubt: boolean;
}

interface Rejection {
  code: string;
  kind: ShelfDevice['kind'];
  why: string;
  /** Given if the size is the reason; keys as in the result. */
  size?: {
    diameter_mm: number;
    oversize_percent: number;
    /** Device diameters that the rule asks for, as oversize in percent and in mm; absent if the instructions for use decide. */
    window_percent?: [number, number];
    window_mm?: [number, number];
    /** The next device of its kind below or above the window. */
    is_nearest: boolean;
  };
}

export interface Judged {
  /** Best first: kind, then the middle of the window, then the smaller lumen, then the code. */
  fitting: Candidate[];
  rejected: Rejection[];
}

export const isCoil = (device: ShelfDevice): boolean =>
  device.kind === 'detachable-coil' || device.kind === 'pushable-coil';

/** Pieces that a candidate takes from the shelf. */
export const piecesOf = (candidate: Candidate): number => candidate.count ?? 1;

/** Judges every device on the shelf against one feeder; each is either a candidate or rejected with numbers. */
export function judgeShelf(feeder: FeederToClose & { calibreMm: Mm }, context: FitContext): Judged {
  const { rules, shelf } = context;
  const order = kindOrder(feeder.calibreMm, rules);
  const devices = shelf?.devices ?? [];
  const nearest = nearestMisses(devices, feeder.calibreMm, rules);
  const fitting: Candidate[] = [];
  const rejected: Rejection[] = [];
  for (const device of devices) {
    const size = judgeSize(device, feeder.calibreMm, rules);
    const nickel = nickelRefusal(device, context);
    const bySize = sizeRefusal(device, size, feeder.calibreMm, rules, nearest.get(device));
    const why = nickel ?? bySize ?? lengthRefusal(device, feeder, rules);
    if (why !== undefined)
      rejected.push({
        code: device.code,
        kind: device.kind,
        why,
        ...(nickel === undefined &&
          bySize !== undefined && {
            size: sizeMiss(device, size, feeder.calibreMm, rules, nearest.has(device)),
          }),
      });
    else fitting.push(candidateOf(device, size, feeder.calibreMm, order.indexOf(device.kind), context));
  }
  return { fitting: fitting.sort(byQuality), rejected };
}

/** Order by quality only; the allocation considers stock. */
function byQuality(a: Candidate, b: Candidate): number {
  const lumen = (c: Candidate): number => c.device.needsLumenMm ?? Number.MAX_VALUE;
  return (
    a.kindRank - b.kindRank ||
    Number(a.nickelDoubt) - Number(b.nickelDoubt) ||
    differs(a.offMiddle, b.offMiddle) ||
    lumen(a) - lumen(b) ||
    (a.device.code < b.device.code ? -1 : a.device.code > b.device.code ? 1 : 0)
  );
}

const differs = (a: number, b: number): number => (Math.abs(a - b) < 1e-9 ? 0 : a - b);

function candidateOf(
  device: ShelfDevice,
  size: SizeVerdict,
  calibreMm: Mm,
  kindRank: number,
  context: FitContext,
): Candidate {
  const { rules } = context;
  const middle = (size.vesselMm[0] + size.vesselMm[1]) / 2;
  const half = (size.vesselMm[1] - size.vesselMm[0]) / 2;
  const [low, high] = windowMm(device.kind, calibreMm, rules);
  const offMiddle = size.byInstructions
    ? half > 0
      ? Math.abs(calibreMm - middle) / half
      : 0
    : Math.abs(device.diameterMm - (low + high) / 2) / ((high - low) / 2 || 1);
  return {
    device,
    size,
    oversize: oversizeFraction(device.diameterMm, calibreMm),
    ...coilEstimate(device, calibreMm, rules),
    kindRank,
    offMiddle,
    nickelDoubt: (context.allergies?.includes('nickel') ?? false) && device.nickel !== 'no',
  };
}

function coilEstimate(
  device: ShelfDevice,
  calibreMm: Mm,
  rules: Rules,
): { count?: number; packingPercent?: Percent } {
  if (!isCoil(device)) return { count: 1 };
  if (device.lengthMm === undefined) return {};
  const wire = numberOf(rules, 'coil-wire-diameter');
  const volume = stretchVolumeMm3(calibreMm, numberOf(rules, 'coil-pack-length'));
  const count = coilsForDensity(numberOf(rules, 'packing-density-aneurysm'), wire, device.lengthMm, volume);
  return { count, packingPercent: packingDensityPercent(count, wire, device.lengthMm, volume) };
}

function nickelRefusal(device: ShelfDevice, context: FitContext): string | undefined {
  if (!context.allergies?.includes('nickel') || device.nickel !== 'yes') return undefined;
  return 'the device contains nickel and the case lists a nickel allergy';
}

/** For each kind, the next device below and above the window. */
function nearestMisses(
  devices: readonly ShelfDevice[],
  calibreMm: Mm,
  rules: Rules,
): Map<ShelfDevice, 'below' | 'above'> {
  const best = new Map<string, { device: ShelfDevice; miss: number }>();
  for (const device of devices) {
    const size = judgeSize(device, calibreMm, rules);
    if (size.fits === 'yes') continue;
    const key = `${device.kind} ${size.fits}`;
    const miss = size.fits === 'too-small' ? calibreMm - size.vesselMm[1] : size.vesselMm[0] - calibreMm;
    const before = best.get(key);
    if (before === undefined || miss < before.miss - 1e-9) best.set(key, { device, miss });
  }
  const entries = [...best].map(([key, { device }]): [ShelfDevice, 'below' | 'above'] => [
    device,
    key.endsWith('too-small') ? 'below' : 'above',
  ]);
  return new Map(entries);
}

function sizeRefusal(
  device: ShelfDevice,
  size: SizeVerdict,
  calibreMm: Mm,
  rules: Rules,
  nearest: 'below' | 'above' | undefined,
): string | undefined {
  if (size.fits === 'yes') return undefined;
  const over = 100 * oversizeFraction(device.diameterMm, calibreMm);
  const relation = over < 0 ? `${fixed(-over, 2)} % smaller than the vessel` : `${fixed(over, 2)} % over`;
  const start = `${trim(device.diameterMm)} mm on ${fixed(calibreMm, 2)} mm is ${relation}`;
  const next = nearest === undefined ? '' : `; the nearest ${device.kind} ${nearest}`;
  if (size.byInstructions) {
    const range = `${fixed(size.vesselMm[0], 2)} to ${fixed(size.vesselMm[1], 2)} mm`;
    const side = size.fits === 'too-small' ? 'above' : 'below';
    return `${start}; the landing calibre is ${side} its vessel range of ${range}${next}`;
  }
  const [low, high] = windowMm(device.kind, calibreMm, rules);
  const percent = `${fixed(100 * oversizeFraction(low, calibreMm), 0)} to ${fixed(100 * oversizeFraction(high, calibreMm), 0)} %`;
  const side = size.fits === 'too-small' ? 'below' : 'above';
  return `${start}, ${side} the window of ${percent} (${fixed(low, 2)} to ${fixed(high, 2)} mm)${next}`;
}

/** The numbers behind a rejection by size. */
function sizeMiss(
  device: ShelfDevice,
  size: SizeVerdict,
  calibreMm: Mm,
  rules: Rules,
  isNearest: boolean,
): NonNullable<Rejection['size']> {
  const percent = (diameterMm: Mm): number => rounded(100 * oversizeFraction(diameterMm, calibreMm), 2);
  const window = size.byInstructions ? undefined : windowMm(device.kind, calibreMm, rules);
  return {
    diameter_mm: device.diameterMm,
    oversize_percent: percent(device.diameterMm),
    ...(window && {
      window_percent: [percent(window[0]), percent(window[1])],
      window_mm: [rounded(window[0], 3), rounded(window[1], 3)],
    }),
    is_nearest: isNearest,
  };
}

function lengthRefusal(device: ShelfDevice, feeder: FeederToClose, rules: Rules): string | undefined {
  if (feeder.zoneLengthMm === undefined) return undefined;
  const beyond = numberOf(rules, 'landing-beyond-device');
  const known = !isCoil(device) && device.lengthMm !== undefined;
  const needed = known ? (device.lengthMm ?? 0) + beyond : numberOf(rules, 'landing-where-length-unknown');
  if (atLeast(feeder.zoneLengthMm, needed)) return undefined;
  const why = known
    ? `${trim(device.lengthMm ?? 0)} mm long and ${trim(beyond)} mm beyond it need ${fixed(needed, 1)} mm of landing zone`
    : `its deployed length is not known, so ${fixed(needed, 1)} mm of landing zone are needed`;
  return `${why}; the zone is ${fixed(feeder.zoneLengthMm, 1)} mm`;
}

/** A size as written on the shelf: no trailing zeros, at most 3 decimals. */
export const trim = (value: number): string => String(Number(fixed(value, 3)));
