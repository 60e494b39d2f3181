import { basename } from 'node:path';
import { decodeYaml, parseLocatedYaml } from '../foundation/located-yaml.js';
import { refuseLinkOutside } from '../foundation/own-folder.js';
import { refuseForeign } from '../foundation/own-format.js';
import { quoted } from '../foundation/quoted-text.js';
import type { DeviceKind, Shelf, ShelfDevice } from './case.js';
import { checkRanges } from './check-ranges.js';
import { checkStructure } from './check-structure.js';
import { FileReader } from './file-reader.js';
import { requireFormat } from './parse-case.js';
import { SHELF_RANGES } from './plausible-ranges.js';
import { Problems } from './problems.js';
import { readAnnotations } from './read-annotations.js';
import { readTextFile } from './read-case.js';

/**
 * Parses the text of a shelf file to a checked Shelf. Pure. Throws InputFailure (exit code 3) with every problem of the file, in file
 * order, `FILE:LINE:COLUMN PATH: text`.
 */
export async function parseShelf(text: string, fileName: string): Promise<Shelf> {
  refuseForeign(text, fileName, { what: 'pavm shelf file', format: 'pavm-shelf/1', exitCode: 3 });
  const yaml = parseLocatedYaml(text, fileName, { exitCode: 3, keepSlips: true });
  requireFormat(yaml, 'shelf', 3);
  const problems = new Problems(yaml, fileName, 3);
  await checkStructure(yaml, 'shelf', problems);
  const reader = new FileReader(yaml, readAnnotations(yaml, 'shelf', problems), problems);
  checkRanges(reader, SHELF_RANGES, problems);
  checkDevices(reader, problems);
  problems.throwIfAny();
  return {
    asOf: reader.text('as_of'),
    devices: reader.items('devices').map((path) => buildDevice(reader, path)),
  };
}

/** Reads a shelf file. Messages name it by `shownAs`, else by its file name. Throws InputFailure (exit code 3). */
export async function readShelf(path: string, shownAs: string = basename(path)): Promise<Shelf> {
  refuseLinkOutside(path, 3);
  const bytes = readTextFile(path, 3);
  return parseShelf(decodeYaml(bytes, shownAs, { exitCode: 3 }), shownAs);
}

function checkDevices(reader: FileReader, problems: Problems): void {
  const codes = new Map<string, string>();
  for (const path of reader.items('devices')) {
    const code = reader.text(`${path}.code`);
    if (code !== undefined) {
      const before = codes.get(code);
      if (before)
        problems.add(`${path}.code`, `${quoted(code)} is the code of ${before} too. Codes must differ.`);
      else codes.set(code, path);
    }
    const low = reader.quantity(`${path}.vessel_min`);
    const high = reader.quantity(`${path}.vessel_max`);
    if (low !== undefined && high !== undefined && low > high) {
      problems.add(
        `${path}.vessel_max`,
        `${quoted(reader.source(`${path}.vessel_max`) ?? '')} is less than vessel_min. Swap the two.`,
      );
    }
  }
}

function buildDevice(reader: FileReader, path: string): ShelfDevice {
  return {
    code: reader.text(`${path}.code`) as string,
    kind: reader.word<DeviceKind>(`${path}.kind`) as DeviceKind,
    diameterMm: reader.quantity(`${path}.diameter`) as number,
    lengthMm: reader.quantity(`${path}.length`),
    needsLumenMm: reader.quantity(`${path}.needs_lumen`),
    inStock: reader.number(`${path}.in_stock`),
    leadTimeDays: reader.quantity(`${path}.lead_time`),
    nickel: reader.yesNo(`${path}.nickel`),
    vesselMinMm: reader.quantity(`${path}.vessel_min`),
    vesselMaxMm: reader.quantity(`${path}.vessel_max`),
  };
}
