import { type Finding, finding } from '../foundation/finding.js';
import { addDays, dayNumber } from '../foundation/iso-date.js';
import { fixed, rounded } from '../foundation/number-text.js';
import type { Mm } from '../foundation/unit-types.js';
import type { Result } from '../result/result.generated.js';
import { numberOf } from '../rules/rule.js';
import { type Assignment, allocate, type Demand } from './allocate.js';
import { borderline, choiceByImage } from './borderline.js';
import { type Candidate, type Judged, judgeShelf, piecesOf, trim } from './candidates.js';
import { deviceFindings, ifNone } from './device-findings.js';
import { kindOrder, oversizeFraction, windowMm } from './device-window.js';
import { type FeederToClose, type FitContext, hasCalibre } from './feeder.js';

type Device = Result['devices'][string];
type OrderLine = NonNullable<Result['readiness']['order_list']>[number];

/** The device for one feeder from today's stock. */
interface TodayChoice {
  feeder: string;
  code: string;
  kind: string;
  diameter_mm: number;
  count: number;
}

export interface DevicePlan {
  devices: Result['devices'];
  findings: Finding[];
  orderList: OrderLine[];
  /** The best choices with the present stock, of any kind; feeders without a device are left out. */
  bestToday: TodayChoice[];
}

/**
 * Fits devices to every feeder of a lesion and shares the stock between them: no piece is planned twice, most feeders
 * become ready, then the choices are best (see `allocate`). A feeder gets the preferred kind that fits and can be obtained; other kinds
 * are alternates, and are in `bestToday` if only they are in stock.
 * Calibres and lengths mm; dates ISO; no clock is read. Without a shelf only the windows are given.
 */
export function planDevices(feeders: readonly FeederToClose[], context: FitContext): DevicePlan {
  const findings: Finding[] = [];
  const judged = feeders.map((feeder) =>
    hasCalibre(feeder) ? judgeShelf(feeder, context) : { fitting: [], rejected: [] },
  );
  const demands = feeders.map((feeder, i): Demand => ({ name: feeder.name, candidates: judged[i].fitting }));
  const planned = allocate(
    demands.map((demand) => ({ ...demand, candidates: preferredKinds(demand.candidates) })),
  );
  const today = allocate(demands, true);
  if (!planned.provenBest || !today.provenBest) {
    const text = 'The shelf and the feeders allow too many combinations; the best of those tried is shown.';
    findings.push(finding('note', 'allocation-not-proven-best', 'devices', text));
  }
  const devices: Result['devices'] = {};
  feeders.forEach((feeder, i) => {
    const taken = takenPieces(planned.assigned.filter((_, other) => other !== i));
    devices[feeder.name] = deviceOf(feeder, judged[i], planned.assigned[i], taken, context);
    findings.push(...deviceFindings(feeder, devices[feeder.name], planned.assigned[i], context));
  });
  return {
    devices,
    findings,
    orderList: orderList(feeders, planned.assigned, context),
    bestToday: feeders.flatMap((feeder, i) => todayChoice(feeder.name, today.assigned[i])),
  };
}

/**
 * Candidates of the preferred kind, and of lower kinds as long as no device of the kinds above can be ordered, since a kind that is only in
 * stock may be used up by another feeder.
 */
function preferredKinds(candidates: readonly Candidate[]): Candidate[] {
  const orderable = candidates.find(({ device }) => device.leadTimeDays !== undefined);
  if (orderable === undefined) return [...candidates];
  return candidates.filter((candidate) => candidate.kindRank <= orderable.kindRank);
}

function deviceOf(
  feeder: FeederToClose,
  judged: Judged,
  assignment: Assignment | undefined,
  taken: ReadonlyMap<string, number>,
  context: FitContext,
): Device {
  if (!hasCalibre(feeder)) {
    const because =
      feeder.absentBecause ?? 'the feeder has no landing zone, so there is no calibre to size a device on';
    return { alternates: [], rejected: [], borderline: false, absent_because: because };
  }
  const preferred = kindOrder(feeder.calibreMm, context.rules)[0];
  const window = windowMm(assignment?.candidate.device.kind ?? preferred, feeder.calibreMm, context.rules);
  const base: Device = {
    window_mm: [rounded(window[0], 3), rounded(window[1], 3)],
    alternates: [],
    rejected: judged.rejected,
    borderline: false,
  };
  if (context.shelf === undefined) {
    return {
      ...base,
      rule: `window-${preferred}`,
      absent_because: 'no shelf file was given: only the window is known',
    };
  }
  const near = borderline(feeder, context);
  const shown = choiceByImage(feeder, context);
  const marked = {
    ...base,
    borderline: near !== undefined,
    ...(near && { borderline_because: near }),
    ...(shown && { by_image: shown }),
  };
  if (assignment === undefined) {
    const because =
      judged.rejected.length === 0
        ? 'the shelf file lists no device'
        : `none of the ${judged.rejected.length} devices of the shelf suits ${feeder.name}`;
    return {
      ...marked,
      rule: `window-${preferred}`,
      absent_because: because,
      ...ifNone(feeder, context.rules),
    };
  }
  return {
    ...marked,
    ...chosen(feeder, assignment, context),
    alternates: alternatesOf(feeder, judged, assignment, taken, context),
  };
}

function chosen(
  feeder: FeederToClose & { calibreMm: Mm },
  { candidate, fromStock }: Assignment,
  context: FitContext,
): Partial<Device> {
  const { device, size } = candidate;
  const interval = feeder.calibreIntervalMm;
  const over = (calibre: number): number => rounded(100 * oversizeFraction(device.diameterMm, calibre), 2);
  return {
    kind: device.kind,
    code: device.code,
    diameter_mm: device.diameterMm,
    ...(device.lengthMm !== undefined && { length_mm: device.lengthMm }),
    ...(candidate.count !== undefined && { count: candidate.count }),
    oversize_percent: over(feeder.calibreMm),
    ...(interval && interval[0] > 0 && { oversize_interval_percent: [over(interval[1]), over(interval[0])] }),
    rule: size.rule,
    rule_source: size.source,
    ...(device.needsLumenMm !== undefined && { needs_lumen_mm: device.needsLumenMm }),
    ...stockFields(candidate, fromStock, context),
    ...packingField(candidate, feeder, context),
  };
}

function stockFields(
  candidate: Candidate,
  fromStock: boolean,
  context: FitContext,
): { on_shelf?: boolean; ready_by?: string } {
  const known = candidate.device.inStock !== undefined;
  const readyBy = readyByDate(candidate, fromStock, context.today);
  return { ...(known && { on_shelf: fromStock }), ...(readyBy !== undefined && { ready_by: readyBy }) };
}

function readyByDate(
  candidate: Candidate,
  fromStock: boolean,
  today: string | undefined,
): string | undefined {
  if (today === undefined || dayNumber(today) === undefined) return undefined;
  if (fromStock) return today;
  const days = candidate.device.leadTimeDays;
  return days === undefined ? undefined : addDays(today, Math.ceil(days));
}

function packingField(
  candidate: Candidate,
  { sacVolumeMl }: FeederToClose,
  { rules }: FitContext,
): Pick<Device, 'packing'> {
  if (candidate.packingPercent === undefined) return {};
  const wire = numberOf(rules, 'coil-wire-diameter');
  const stretch = trim(numberOf(rules, 'coil-pack-length'));
  const sac =
    sacVolumeMl === undefined ? '' : ` The sac itself, ${fixed(sacVolumeMl, 1)} mL, is not counted in.`;
  return {
    packing: {
      density_percent: rounded(candidate.packingPercent, 1),
      note:
        `${candidate.count} coils in ${stretch} mm of feeder, with an assumed wire of ${trim(wire)} mm. For information: ` +
        `no threshold is published for a pulmonary lesion.${sac}`,
    },
  };
}

/** Pieces taken from the shelf by these assignments, by code. */
function takenPieces(assigned: readonly (Assignment | undefined)[]): Map<string, number> {
  const taken = new Map<string, number>();
  for (const assignment of assigned) {
    if (!assignment?.fromStock) continue;
    const { code } = assignment.candidate.device;
    taken.set(code, (taken.get(code) ?? 0) + piecesOf(assignment.candidate));
  }
  return taken;
}

function alternatesOf(
  feeder: FeederToClose & { calibreMm: Mm },
  judged: Judged,
  assignment: Assignment,
  taken: ReadonlyMap<string, number>,
  context: FitContext,
): Device['alternates'] {
  return judged.fitting
    .filter((candidate) => candidate !== assignment.candidate)
    .map((candidate) => {
      const left = (candidate.device.inStock ?? 0) - (taken.get(candidate.device.code) ?? 0);
      const inStock = left >= piecesOf(candidate);
      return {
        code: candidate.device.code,
        kind: candidate.device.kind,
        diameter_mm: candidate.device.diameterMm,
        oversize_percent: rounded(100 * oversizeFraction(candidate.device.diameterMm, feeder.calibreMm), 2),
        ...(candidate.count !== undefined && { count: candidate.count }),
        ...stockFields(candidate, inStock, context),
        rule: candidate.size.rule,
      };
    });
}

function orderList(
  feeders: readonly FeederToClose[],
  assigned: readonly (Assignment | undefined)[],
  context: FitContext,
): OrderLine[] {
  const lines = new Map<string, { candidate: Candidate; ordered: number; taken: number; names: string[] }>();
  feeders.forEach((feeder, i) => {
    const assignment = assigned[i];
    if (assignment === undefined) return;
    const { candidate, fromStock } = assignment;
    const line = lines.get(candidate.device.code) ?? { candidate, ordered: 0, taken: 0, names: [] };
    if (fromStock) line.taken += piecesOf(candidate);
    else {
      line.ordered += piecesOf(candidate);
      line.names.push(feeder.name);
    }
    lines.set(candidate.device.code, line);
  });
  return [...lines.values()]
    .filter((line) => line.ordered > 0)
    .map(({ candidate, ordered, taken, names }) => {
      const spare = Math.max(0, (candidate.device.inStock ?? 0) - taken);
      const readyBy = readyByDate(candidate, false, context.today);
      return {
        item: candidate.device.code,
        count: Math.max(1, ordered - spare),
        ...(readyBy !== undefined && { ready_by: readyBy }),
        for: names,
      };
    });
}

function todayChoice(feeder: string, assignment: Assignment | undefined): TodayChoice[] {
  if (assignment === undefined) return [];
  const { device } = assignment.candidate;
  return [
    {
      feeder,
      code: device.code,
      kind: device.kind,
      diameter_mm: device.diameterMm,
      count: piecesOf(assignment.candidate),
    },
  ];
}
