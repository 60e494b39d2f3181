import { basename } from 'node:path';
import { dateProblem } from '../../case/calendar-date.js';
import type { Shelf } from '../../case/case.js';
import { KNOWN_ALLERGIES } from '../../case/vocabulary.js';
import { fitDevice } from '../../devices/fit-device.js';
import { EXIT, InputFailure } from '../../foundation/failure.js';
import { nearestHint } from '../../foundation/nearest-key.js';
import { fixed, rangeText } from '../../foundation/number-text.js';
import { quantityFlag } from '../../foundation/quantity.js';
import { quoted } from '../../foundation/quoted-text.js';
import type { Device } from '../../result/result.generated.js';
import { rulesInForce } from '../../rules/rules-in-force.js';
import { sayFindings } from '../terminal/say-findings.js';
import type { Terminal } from '../terminal/terminal.js';

export interface SizeOptions {
  /** Landing calibre, `6.2mm`. */
  calibre?: string;
  /** Length of the landing zone, `15mm`. */
  zone?: string;
  shelf?: string;
  /** One or more, such as `nickel`. */
  allergy?: string | string[];
  /** ISO date that lead times count from; else the shelf's `as_of`. */
  today?: string;
  /** Folder of the hospital's own rule files. */
  rules?: string;
  json?: boolean;
}

const EXAMPLE = 'Example: pavm size --calibre 6.2mm --zone 15mm --shelf shelf.yaml';

/** Wider than any pulmonary artery branch, so a wrong unit. */
const WIDEST_MM = 60;

/**
 * `pavm size`: the device for one landing calibre, from a shelf file or, without one, the window alone. Returns 1 if no device on the
 * shelf fits, or no window is known.
 */
export async function run(
  args: readonly string[],
  options: SizeOptions,
  terminal: Terminal,
): Promise<number> {
  if (args.length > 0)
    throw new InputFailure(2, `size takes options only, not ${quoted(args[0])}. ${EXAMPLE}`);
  if (options.calibre === undefined) throw new InputFailure(2, `size needs --calibre. ${EXAMPLE}`);
  const calibreMm = lengthFlag('--calibre', options.calibre);
  const zoneLengthMm = options.zone === undefined ? undefined : lengthFlag('--zone', options.zone, 1000);
  const allergies = allergiesOf(options.allergy);
  const rules = await rulesInForce(options.rules);
  const shelf = options.shelf === undefined ? undefined : await shelfOf(options.shelf);
  const today = todayOf(options.today, shelf);
  const { device, findings: fitted } = fitDevice({
    feeder: { name: 'feeder', calibreMm, ...(zoneLengthMm !== undefined && { zoneLengthMm }) },
    ...(shelf && { shelf }),
    ...(allergies && { allergies }),
    ...(today !== undefined && { today }),
    rules,
  });
  const findings = [...rules.findings, ...fitted];
  terminal.out(options.json ? `${JSON.stringify(device, null, 2)}\n` : deviceText(device, calibreMm));
  sayFindings(findings, terminal);
  const answered = shelf === undefined ? device.window_mm !== undefined : device.code !== undefined;
  return answered && findings.every(({ level }) => level !== 'stop') ? EXIT.done : EXIT.stopFinding;
}

function lengthFlag(flag: string, text: string, most = WIDEST_MM): number {
  const value = quantityFlag(flag, text, 'length', 'mm');
  if (value > 0 && value <= most) return value;
  throw new InputFailure(
    2,
    `${flag}: ${quoted(text)} is ${fixed(value, 2)} mm; above 0 and up to ${most} mm is accepted.`,
  );
}

function allergiesOf(given: string | string[] | undefined): string[] | undefined {
  if (given === undefined) return undefined;
  const list = [given]
    .flat()
    .flatMap((text) => text.split(','))
    .map((text) => text.trim());
  const known = [...KNOWN_ALLERGIES, 'none'] as readonly string[];
  for (const word of list) {
    if (known.includes(word)) continue;
    throw new InputFailure(2, `--allergy: ${quoted(word)} is not known here. ${nearestHint(word, known)}`);
  }
  return list.filter((word) => word !== 'none');
}

async function shelfOf(path: string): Promise<Shelf> {
  const { readShelf } = await import('../../case/read-shelf.js');
  return readShelf(path, basename(path));
}

function todayOf(option: string | undefined, shelf: Shelf | undefined): string | undefined {
  const problem = option === undefined ? undefined : dateProblem(option);
  if (problem !== undefined) throw new InputFailure(2, `--today: ${problem}`);
  return option ?? shelf?.asOf;
}

/** The device as lines for a reader. */
function deviceText(device: Device, calibreMm: number): string {
  const lines = [`Landing calibre ${fixed(calibreMm, 2)} mm`];
  if (device.window_mm !== undefined) {
    lines.push(`Window ${rangeText(device.window_mm, 2, 'mm')} (${device.rule})`);
  }
  if (device.code !== undefined) {
    const count = device.count !== undefined && device.count > 1 ? `${device.count} x ` : '';
    const over = device.oversize_percent === undefined ? '' : `, ${fixed(device.oversize_percent, 1)} % over`;
    lines.push(`Device ${count}${device.code}: ${device.kind}, ${device.diameter_mm} mm${over}`);
    if (device.needs_lumen_mm !== undefined)
      lines.push(`Needs an inner lumen of ${device.needs_lumen_mm} mm`);
    lines.push(readyText(device));
  } else {
    lines.push(`No device: ${device.absent_because}`);
    if (device.if_none !== undefined) lines.push(device.if_none);
  }
  for (const { code, kind, diameter_mm, oversize_percent, on_shelf } of device.alternates) {
    const stock = on_shelf === true ? 'on the shelf' : 'not on the shelf';
    lines.push(
      `Alternate ${code}: ${kind}, ${diameter_mm} mm, ${fixed(oversize_percent, 1)} % over, ${stock}`,
    );
  }
  for (const { code, why } of device.rejected) lines.push(`Rejected ${code}: ${why}`);
  lines.push("The device's instructions for use and a licensed operator decide.");
  return `${lines.join('\n')}\n`;
}

function readyText(device: Device): string {
  if (device.on_shelf === true) return 'On the shelf';
  const shelf =
    device.on_shelf === false ? 'Not on the shelf' : 'The shelf file does not say how many are in stock';
  return device.ready_by === undefined ? `${shelf}; no date` : `${shelf}; ready by ${device.ready_by}`;
}
