import { fixed } from '../foundation/number-text.js';
import { deviceKind } from '../report/words.js';
import type { Closure, Device, Ready, Result } from '../result/result.generated.js';
import { judgeChange } from './numbers.js';

/** One decision of the plan that has changed. */
export interface DecisionChange {
  /** For example `device for A1`, `recommendation`. */
  what: string;
  old: string;
  new: string;
  because: string[];
  /** Whether it changes the plan; a later delivery date alone does not. */
  changesPlan: boolean;
  /** A remark for the verdict although it does not change the plan. */
  caution?: string;
}

/** Every decision that differs between two results whose vessels go by the same names. */
export function compareDecisions(old: Result, now: Result): DecisionChange[] {
  return [
    ...kinds(old, now),
    ...landings(old, now),
    ...devices(old, now),
    ...closureOrder(old, now),
    ...ready('plan A', old.readiness.plan_a, now.readiness.plan_a),
    ...ready('plan B', old.readiness.plan_b, now.readiness.plan_b),
    ...words('recommendation', old.readiness.recommended, now.readiness.recommended, now.readiness.because),
    ...newStops(old, now),
  ];
}

/** If no feeder remains after a treatment there is no kind, and that is not a decision. */
function kinds({ lesion: old }: Result, { lesion: now }: Result): DecisionChange[] {
  if (old.feeders_absent_because !== undefined || now.feeders_absent_because !== undefined) return [];
  return words('kind of lesion', old.kind, now.kind, [now.kind_because]);
}

function words(
  what: string,
  old: string | undefined,
  now: string | undefined,
  because: readonly (string | undefined)[],
): DecisionChange[] {
  if (old === now) return [];
  const reasons = because.filter((reason): reason is string => reason !== undefined);
  return [{ what, old: old ?? 'not stated', new: now ?? 'not stated', because: reasons, changesPlan: true }];
}

const commonNames = (a: object, b: object): string[] =>
  Object.keys(a).filter((name) => Object.hasOwn(b, name));

function landings(old: Result, now: Result): DecisionChange[] {
  return commonNames(old.vessels, now.vessels).flatMap((name) => {
    const [a, b] = [old.vessels[name], now.vessels[name]];
    if (a.role !== 'feeder' || (a.landing === undefined) === (b.landing === undefined)) return [];
    const text = (one: typeof a): string =>
      one.landing ? `${fixed(one.landing.length_mm, 1)} mm long` : 'none';
    const because = [b.landing_absent_because, a.landing_absent_because].flatMap((one) => one ?? []);
    return [{ what: `landing zone on ${name}`, old: text(a), new: text(b), because, changesPlan: true }];
  });
}

function deviceText(device: Device): string {
  if (device.code === undefined) return 'none';
  const size = device.diameter_mm === undefined ? '' : ` ${fixed(device.diameter_mm, 1)} mm`;
  return `${device.kind ? deviceKind(device.kind) : 'device'}${size}, ${device.code}`;
}

function devices(old: Result, now: Result): DecisionChange[] {
  return commonNames(old.devices, now.devices).flatMap((name) => {
    const [a, b] = [old.devices[name], now.devices[name]];
    const found: DecisionChange[] = [];
    const isOther = a.kind !== b.kind || a.code !== b.code || a.diameter_mm !== b.diameter_mm;
    if (isOther)
      found.push({
        what: `device for ${name}`,
        old: deviceText(a),
        new: deviceText(b),
        because: deviceReasons(name, old, now),
        changesPlan: true,
      });
    else if (a.count !== b.count)
      found.push({
        what: `number of devices for ${name}`,
        old: String(a.count ?? 'not stated'),
        new: String(b.count ?? 'not stated'),
        because: [calibreReason(name, old, now)].flatMap((one) => one ?? []),
        changesPlan: false,
      });
    if (!isOther && a.code !== undefined && (a.on_shelf !== b.on_shelf || a.ready_by !== b.ready_by))
      found.push({
        what: `delivery for ${name}`,
        old: deliveryText(a),
        new: deliveryText(b),
        because: [shelfReason(old, now) ?? dateReason(old, now)].flatMap((one) => one ?? []),
        changesPlan: false,
      });
    return found;
  });
}

const deliveryText = ({ on_shelf, ready_by }: Device): string =>
  on_shelf ? 'on the shelf' : ready_by ? `by ${ready_by}` : 'no date';

function deviceReasons(name: string, old: Result, now: Result): string[] {
  const [a, b] = [old.devices[name], now.devices[name]];
  const rejected = b.rejected.find(({ code }) => code === a.code);
  const alternate = b.alternates.find(({ code }) => code === a.code);
  return [
    calibreReason(name, old, now),
    rejected && `${rejected.code} no longer fits: ${rejected.why}`,
    alternate && `${alternate.code} still fits, as an alternate`,
    b.absent_because,
    a.code !== undefined && !rejected && !alternate && b.code !== undefined
      ? `${a.code} is not among the devices the new plan looked at`
      : undefined,
    shelfReason(old, now),
    b.borderline_because && `borderline: ${b.borderline_because}`,
  ].flatMap((one) => one || []);
}

/** How the landing calibre changed, compared with both intervals. */
function calibreReason(name: string, old: Result, now: Result): string | undefined {
  const [a, b] = [old.vessels[name]?.landing, now.vessels[name]?.landing];
  if (a === undefined || b === undefined || a.calibre_mm === b.calibre_mm) return undefined;
  const { exceeds } = judgeChange(a.calibre_mm, b.calibre_mm, a.calibre_interval_mm, b.calibre_interval_mm);
  const weight = exceeds ? 'beyond both intervals' : 'inside both intervals: measure again';
  return `landing calibre ${fixed(a.calibre_mm, 2)} to ${fixed(b.calibre_mm, 2)} mm, ${weight}`;
}

/** Whether the shelf file changed; it is the input that is neither a case nor a mesh. */
function shelfReason(old: Result, now: Result): string | undefined {
  const shelf = (result: Result): string | undefined =>
    result.inputs.slice(1).find(({ path }) => /\.ya?ml$/.test(path))?.sha256;
  const [a, b] = [shelf(old), shelf(now)];
  if (a === b) return undefined;
  return a === undefined
    ? 'a shelf file was added'
    : b === undefined
      ? 'no shelf file is given now'
      : 'the shelf file differs';
}

const dateReason = (old: Result, now: Result): string | undefined =>
  old.today.date === now.today.date
    ? undefined
    : `lead times count from ${now.today.date ?? 'no date'} instead of ${old.today.date ?? 'no date'}`;

/** A new order counts only if the ranges of the shares are distinct. */
function closureOrder(old: Result, now: Result): DecisionChange[] {
  const [a, b] = [old.closure_order ?? [], now.closure_order ?? []];
  const both = a.filter((name) => b.includes(name));
  const reordered = b.filter((name) => a.includes(name));
  if (both.join() === reordered.join()) return [];
  const because = reordered.flatMap((name) => {
    const share = afterClosing(now, name);
    return share === undefined
      ? []
      : [`closing ${name} alone now leaves a shunt of ${fixed(100 * share, 1)} %`];
  });
  const swapped = both.filter((name, i) => reordered[i] !== name);
  const apart = !overlap(now, swapped);
  if (!apart) because.push('the intervals of these feeders overlap: the order is not settled by the numbers');
  return [
    {
      what: 'order of closure',
      old: both.join(', '),
      new: reordered.join(', '),
      because,
      changesPlan: apart,
    },
  ];
}

function alone(result: Result, name: string): Closure | undefined {
  return result.closure.find(({ closed }) => closed !== 'lobe' && closed.length === 1 && closed[0] === name);
}

const afterClosing = (result: Result, name: string): number | undefined =>
  alone(result, name)?.shunt_fraction;

/** Whether the shunts left after closing each of these feeders alone have overlapping intervals. */
function overlap(result: Result, names: readonly string[]): boolean {
  const ranges = names.flatMap((name) => {
    const range = alone(result, name)?.intervals?.shunt_fraction;
    return range ? [range] : [];
  });
  return (
    ranges.length > 1 &&
    Math.max(...ranges.map(([low]) => low)) <= Math.min(...ranges.map(([, high]) => high))
  );
}

function ready(what: string, old: Ready, now: Ready): DecisionChange[] {
  const text = ({ ready_today, ready_by }: Ready): string =>
    ready_today ? 'ready today' : ready_by ? `ready by ${ready_by}` : 'not ready';
  if (old.ready_today === now.ready_today) return [];
  const news = now.missing
    .filter((item) => !old.missing.includes(item))
    .map((item) => `now missing: ${item}`);
  const gone = old.missing
    .filter((item) => !now.missing.includes(item))
    .map((item) => `no longer missing: ${item}`);
  return [{ what, old: text(old), new: text(now), because: [...news, ...gone], changesPlan: true }];
}

/** Findings and checklist items of level stop that are not in the old plan. */
function newStops(old: Result, now: Result): DecisionChange[] {
  const had = new Set(
    old.findings.filter(({ level }) => level === 'stop').map(({ id, where }) => `${id} ${where}`),
  );
  const levels = new Map(old.checklist.map(({ id, level }) => [id, level]));
  return [
    ...now.findings
      .filter(({ level, id, where }) => level === 'stop' && !had.has(`${id} ${where}`))
      .map(({ id, where, text }) => ({
        what: `finding ${id}`,
        old: 'not there',
        new: `stop at ${where}`,
        because: [text],
        changesPlan: true,
      })),
    ...now.checklist
      .filter(({ id, level }) => level === 'stop' && levels.get(id) !== 'stop')
      .map(({ id, because }) => ({
        what: `checklist item ${id}`,
        old: levels.get(id) ?? 'not there',
        new: 'stop',
        because: [because],
        changesPlan: true,
      })),
  ];
}
