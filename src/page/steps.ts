/** The steps of both plans for the page: their text as Markdown, and what the picture shows at each. */
import { rangeText } from '../foundation/number-text.js';
import { clause, markdownText, sentence } from '../report/markdown.js';
import { plainLine } from '../report/plain-line.js';
import { shelfCell } from '../report/plan-summary.js';
import {
  devicePhrase,
  entryOf,
  estimate,
  KINDS,
  quantity,
  ROLE_WORDS,
  sourceText,
  targetNames,
  trimmed,
  viewText,
} from '../report/words.js';
import type { Device, Result, Vessel } from '../result/result.generated.js';
import type { StepScene } from './page-types.js';
import type { SceneIds } from './scene-ids.js';

/** One step: heading and lines are finished Markdown; `after` names what is closed once it is done. */
export interface PageStep {
  heading: string;
  lines: string[];
  source?: string;
  after: string[] | 'lobe';
  scene: StepScene;
}

/** Plan A, vessel by vessel in the order of closure: find the landing zone, then close it. */
export function planASteps(result: Result, ids: SceneIds): PageStep[] {
  const order = result.closure_order ?? [];
  const targets = targetNames(result);
  const names = [...order.filter((n) => targets.includes(n)), ...targets.filter((n) => !order.includes(n))];
  const closed: string[] = [];
  return names.flatMap((name) => {
    const vessel = entryOf(result.vessels, name);
    const device = entryOf(result.devices, name);
    const before = [...closed];
    const scene = (said: string, done: readonly string[], placed: readonly string[]): StepScene => ({
      focus: ids.named(name),
      guard: ids.spared,
      closed: done.flatMap(ids.named),
      at: ids.named(name)[0],
      placed: placed.flatMap(ids.named),
      said,
    });
    const find: PageStep = {
      heading: `Find the landing zone of ${markdownText(name)}${vessel ? ` (${ROLE_WORDS[vessel.role]})` : ''}`,
      lines: findLines(vessel),
      after: before,
      scene: scene(`Landing zone of ${plainLine(name)}`, before, before),
    };
    if (!device || !devicePhrase(device) || !vessel?.landing)
      return [{ ...find, lines: [...find.lines, noDevice(device, vessel)] }];
    closed.push(name);
    const close: PageStep = {
      heading: `Close ${markdownText(name)}`,
      lines: closeLines(device),
      after: [...closed],
      scene: scene(`${plainLine(name)} closed`, closed, closed),
    };
    return [find, close];
  });
}

function findLines(vessel: Vessel | undefined): string[] {
  const landing = vessel?.landing;
  if (!landing && vessel?.role === 'systemic-feeder')
    return ['A systemic feeder: no landing zone is looked for.'];
  if (!landing)
    return [
      `**No landing zone.** ${sentence(vessel?.landing_absent_because ?? 'The result gives no reason')}`,
    ];
  return [
    landing.view
      ? `C-arm to **${viewText(landing.view)}**: this shows the zone side on. Correct the angle under fluoroscopy.`
      : `No working view: ${clause(landing.view_absent_because ?? 'the result gives no reason')}`,
    `Zone ${quantity(landing.length_mm, 1, 'mm', 'measured')} long, its near end ${quantity(landing.to_sac_mm, 1, 'mm', 'measured')} from the neck of the sac${
      landing.to_branch_mm === undefined
        ? '; no side branch upstream'
        : `, its far end ${quantity(landing.to_branch_mm, 1, 'mm', 'measured')} past the last side branch, which stays open`
    }.`,
    `Measure again on the angiogram, at the widest moment. Expected: **${estimate(landing.calibre_mm, landing.calibre_interval_mm, 1, 'mm', 'measured')}**. Outside that interval, size it again.`,
  ];
}

function closeLines(device: Device): string[] {
  const over =
    device.oversize_percent === undefined
      ? 'oversize not computed'
      : `oversize ${estimate(device.oversize_percent, device.oversize_interval_percent, 0, '%', 'derived')}`;
  const window = device.window_mm
    ? ` The rule asks for ${rangeText(device.window_mm, 1, 'mm')} ${KINDS.derived.mark}.`
    : '';
  const lumen =
    device.needs_lumen_mm === undefined
      ? 'Catheter: the lumen that the device needs is not stated; see its instructions for use.'
      : `Catheter with an inner lumen of at least ${trimmed(device.needs_lumen_mm)} mm ${KINDS.stated.mark}.`;
  return [
    `Device: **${devicePhrase(device)}**; ${over}.${window}`,
    ...(device.borderline
      ? [`**Borderline.** ${clause(device.borderline_because ?? 'the interval reaches past the window')}`]
      : []),
    `${lumen} On the shelf: ${shelfCell(device)}.`,
    ...(device.if_none ? [`If it cannot be used: ${clause(device.if_none)}`] : []),
  ];
}

const noDevice = (device: Device | undefined, vessel: Vessel | undefined): string =>
  !device && vessel?.role === 'systemic-feeder'
    ? '**No device is planned.** Decide in the team how it is closed.'
    : `**No device chosen.** ${sentence(device?.absent_because ?? 'The result contains no device for this vessel')}${
        device?.if_none ? ` ${sentence(device.if_none)}` : ''
      }`;

/** The structures that each stage of the resection shows, by role; an unknown stage shows the whole lesion. */
const STAGE_ROLES: Readonly<Record<string, readonly string[]>> = {
  isolation: ['airway'],
  exploration: ['sac', 'chest-wall'],
  'proximal control': ['feeder'],
  ligament: ['systemic-feeder'],
  artery: ['feeder', 'systemic-feeder'],
  vein: ['drain'],
  bronchus: ['airway'],
  'leak test': ['airway'],
};

/** Stages after the lobe has left the chest. */
const LOBE_OUT: readonly string[] = ['before closing', 'leak test'];

/** Plan B as listed in the result; arteries count as closed once the last arterial step is done. */
export function planBSteps(result: Result, ids: SceneIds): PageStep[] {
  const steps = result.resection?.steps ?? [];
  const lastArtery = steps.reduce((last, step, i) => (step.stage === 'artery' ? i : last), Infinity);
  const feeders = targetNames(result);
  return steps.map((step, i) => {
    const divided = i >= lastArtery;
    const roles = Object.hasOwn(STAGE_ROLES, step.stage) ? STAGE_ROLES[step.stage] : [];
    const focus = [...new Set([...ids.ofRoles(...roles), ...(step.shows ?? []).flatMap(ids.named)])];
    return {
      heading: sentence(step.stage).replace(/\.$/, ''),
      lines: [sentence(step.text), ...(step.see ? [`You will see: ${clause(step.see)}`] : [])],
      source: sourceText(step.source),
      after: LOBE_OUT.includes(step.stage) ? 'lobe' : divided ? feeders : [],
      scene: {
        focus,
        guard: ids.spared,
        closed: i > lastArtery ? feeders.flatMap(ids.named) : [],
        placed: [],
        said: plainLine(step.stage),
      },
    };
  });
}
