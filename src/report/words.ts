/** Words, units and marks shared by all documents and figures. */
import { fixed, rangeText } from '../foundation/number-text.js';
import type { Device, Origin, Result, Shunt, Vessel } from '../result/result.generated.js';
import { sourceText as citation } from '../rules/source-text.js';
import { markdownText } from './markdown.js';

export type Interval = readonly [number, number];

/** Where a printed number comes from. */
export type Kind = Origin;

/** The mark printed after a number, and its meaning. */
export const KINDS: Record<Kind, { mark: string; word: Kind; meaning: string }> = {
  measured: {
    mark: '(m)',
    word: 'measured',
    meaning: 'measured: on the segmented surface, or in this patient’s blood',
  },
  derived: {
    mark: '(d)',
    word: 'derived',
    meaning: 'derived: computed from other numbers by a stated formula or rule',
  },
  assumed: {
    mark: '(a)',
    word: 'assumed',
    meaning: 'assumed: a default, not this patient’s own value; listed below with its reason',
  },
  stated: { mark: '(s)', word: 'stated', meaning: 'stated: taken as written in the case or shelf file' },
};

/** `6.1 mm (m)`: value, unit and mark. The unit is required; use `''` only for a plain ratio. */
export function quantity(value: number, digits: number, unit: string, kind: Kind): string {
  return `${fixed(value, digits)}${unit ? ` ${unit}` : ''} ${KINDS[kind].mark}`;
}

/** `6.1 mm (95 % interval 5.7 to 6.5 mm) (m)`; a missing interval is stated, since an estimate needs one. */
export function estimate(
  value: number,
  interval: Interval | undefined,
  digits: number,
  unit: string,
  kind: Kind,
): string {
  const range = interval ? `95 % interval ${rangeText(interval, digits, unit)}` : 'interval not given';
  return `${fixed(value, digits)} ${unit} (${range}) ${KINDS[kind].mark}`;
}

/** Short form for tables: `6.1 mm (5.7 to 6.5 mm) (m)`; the column heading says what the bracket is. */
export function cellEstimate(
  value: number | undefined,
  interval: Interval | undefined,
  digits: number,
  unit: string,
  kind: Kind,
): string {
  if (value === undefined) return 'not computed';
  const range = interval ? ` (${rangeText(interval, digits, unit)})` : '';
  return `${fixed(value, digits)} ${unit}${range} ${KINDS[kind].mark}`;
}

/** The entry of a map by name; inherited names such as `constructor` are not found. */
export const entryOf = <T>(map: Readonly<Record<string, T>>, name: string): T | undefined =>
  Object.hasOwn(map, name) ? map[name] : undefined;

/** A fraction as percent, for example 0.31 as 31. */
export const percent = (fraction: number): number => fraction * 100;

/** An interval of fractions as percent. */
export const percentInterval = (interval: Interval | undefined): Interval | undefined =>
  interval && [percent(interval[0]), percent(interval[1])];

/**
 * `31.0 % (95 % interval 28.0 to 34.0 %) (d)`; or, if the shunt cannot be distinguished from no shunt, a statement of that and its upper
 * limit.
 */
export const shuntEstimate = (shunt: Shunt): string =>
  shunt.upper_limit === undefined
    ? estimate(percent(shunt.fraction ?? 0), percentInterval(shunt.interval), 1, '%', 'derived')
    : noneText(shunt.upper_limit);

/** Short form of `shuntEstimate` for tables. */
export const shuntCell = (shunt: Shunt | undefined): string =>
  shunt?.upper_limit === undefined
    ? cellEstimate(
        shunt?.fraction === undefined ? undefined : percent(shunt.fraction),
        percentInterval(shunt?.interval),
        1,
        '%',
        'derived',
      )
    : noneText(shunt.upper_limit);

const noneText = (upperLimit: number): string =>
  `cannot be told from none, at most ${fixed(percent(upperLimit), 1)} % ${KINDS.derived.mark}`;

export const ROLE_WORDS: Record<Vessel['role'], string> = {
  feeder: 'feeding artery',
  'systemic-feeder': 'systemic feeding artery',
  drain: 'draining vein',
  branch: 'side branch',
};

const DEVICE_WORDS: Record<NonNullable<Device['kind']>, string> = {
  'vascular-plug': 'vascular plug',
  'micro-plug': 'microvascular plug',
  'detachable-coil': 'detachable coil',
  'pushable-coil': 'pushable coil',
};

/** The kind of a device in words; an unknown kind is printed as written, escaped. */
export const deviceKind = (kind: string): string =>
  Object.hasOwn(DEVICE_WORDS, kind) ? DEVICE_WORDS[kind as NonNullable<Device['kind']>] : markdownText(kind);

/** `left lower lobe`, `lingula`, `right middle lobe`; unknown parts are stated. */
export function lobeText(lesion: Result['lesion']): string {
  if (lesion.lobe === undefined)
    return lesion.side ? `${lesion.side} lung, lobe not stated` : 'side and lobe not stated';
  if (lesion.lobe === 'lingula') return lesion.side ? `lingula (${lesion.side} lung)` : 'lingula';
  const place = `${lesion.lobe} lobe`;
  return lesion.side ? `${lesion.side} ${place}` : `${place}, side not stated`;
}

/** `LAO 20°, cranial 10°`: positive angles are LAO and cranial. */
export function armText(view: { lao_rao_deg: number; cran_caud_deg: number }): string {
  const side = view.lao_rao_deg < 0 ? 'RAO' : 'LAO';
  const tilt = view.cran_caud_deg < 0 ? 'caudal' : 'cranial';
  return `${side} ${fixed(Math.abs(view.lao_rao_deg), 0)}°, ${tilt} ${fixed(Math.abs(view.cran_caud_deg), 0)}°`;
}

/** `LAO 20°, cranial 10° (d)`. */
export const viewText = (view: { lao_rao_deg: number; cran_caud_deg: number }): string =>
  `${armText(view)} ${KINDS.derived.mark}`;

/** A source key becomes its citation and how it was read; anything else is printed as written, escaped. */
export const sourceText = (source: string): string => markdownText(citation(source));

/** `1 coil`, `3 coils`. */
export const counted = (count: number, one: string, many = `${one}s`): string =>
  `${fixed(count, 0)} ${count === 1 ? one : many}`;

/** Compares names as people do: `A2` before `A10`. Uses no locale, so the order is the same everywhere. */
export function compareNames(a: string, b: string): number {
  const parts = (name: string): string[] => name.match(/\d+|\D+/g) ?? [];
  const [left, right] = [parts(a), parts(b)];
  for (let i = 0; i < Math.min(left.length, right.length); i++) {
    const [x, y] = [left[i]!, right[i]!];
    if (x === y) continue;
    const both = /^\d/.test(x) && /^\d/.test(y) ? Number(x) - Number(y) : 0;
    return both || (x < y ? -1 : 1);
  }
  return left.length - right.length;
}

const ROLE_ORDER: readonly Vessel['role'][] = ['feeder', 'systemic-feeder', 'drain', 'branch'];

/** Vessels as `[name, vessel]`: feeding arteries first, then draining veins and branches, each by name. */
export function orderedVessels(result: Result): [string, Vessel][] {
  return Object.entries(result.vessels).sort(
    ([nameA, a], [nameB, b]) =>
      ROLE_ORDER.indexOf(a.role) - ROLE_ORDER.indexOf(b.role) || compareNames(nameA, nameB),
  );
}

/** The vessels that need a device: feeding arteries, and any others in `devices`. */
export function targetNames(result: Result): string[] {
  const feeders = orderedVessels(result)
    .filter(([, vessel]) => vessel.role === 'feeder' || vessel.role === 'systemic-feeder')
    .map(([name]) => name);
  const others = Object.keys(result.devices).filter((name) => !feeders.includes(name));
  return [...feeders, ...others.sort(compareNames)];
}

/** The device in one phrase: `vascular plug, 8 mm diameter, 7 mm long (s), code PLUG-08, 1 piece`. */
export function devicePhrase(device: Device): string | undefined {
  if (device.code === undefined && device.kind === undefined) return undefined;
  const size = [
    device.diameter_mm !== undefined ? `${trimmed(device.diameter_mm)} mm diameter` : 'diameter not given',
    device.length_mm !== undefined ? `${trimmed(device.length_mm)} mm long` : undefined,
  ].filter((part) => part !== undefined);
  return [
    device.kind ? DEVICE_WORDS[device.kind] : 'device',
    `${size.join(', ')} ${KINDS.stated.mark}`,
    device.code !== undefined ? `code ${markdownText(device.code)}` : undefined,
    device.count !== undefined ? counted(device.count, 'piece') : undefined,
  ]
    .filter((part) => part !== undefined)
    .join(', ');
}

/** A size as written on the shelf: at most two decimals, no trailing zeros. */
export const trimmed = (value: number): string => String(Number(fixed(value, 2)));

/** The name of a closure step: `A1 and A2`, `whole lobe`, `nothing closed`. */
export function closedText(closed: string[] | 'lobe'): string {
  if (closed === 'lobe') return 'whole lobe resected';
  return closed.length === 0 ? 'nothing closed' : closed.map(markdownText).join(' + ');
}

/** Why the result has no feeding artery, as a clause. */
export const noFeederText = ({ lesion }: Result): string =>
  lesion.feeders_absent_because ?? 'no feeding artery was measured';
