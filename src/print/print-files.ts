import { write3mf } from '../mesh/write-3mf.js';
import { writeStl } from '../mesh/write-stl.js';
import type { PrintPackage } from './assemble-package.js';
import { fileNames } from './print-result.js';
import { scaleText } from './tag.js';

/**
 * The mesh files of a printable export, paths relative to the print folder: a binary STL for every part and the fused model,
 * and `model.3mf` with every part but the fused one as an object of its own (of a hollow print: the model). Same package, same bytes.
 */
export function printFiles(pack: PrintPackage): { path: string; bytes: Uint8Array }[] {
  if (pack.parts.length === 0) return [];
  const names = fileNames(pack.parts);
  const files = pack.parts.map((part, i) => ({
    path: names[i],
    bytes: writeStl(part.mesh, `${pack.caseId} ${part.name}`),
  }));
  const isSplit = pack.parts.some((p) => p.role === 'sac' || p.role === 'whole' || p.role === 'feeder');
  const objects = pack.parts
    .filter((p) => !isSplit || p.role !== 'model')
    .map((p) => ({ name: objectName(pack, p.name), mesh: p.mesh, colour: p.colour }));
  const { scale } = pack.result;
  const description = `Scale ${scaleText(scale ?? 1)}. Not a medical device. Check the print with a caliper before anyone relies on it.`;
  files.push({ path: 'model.3mf', bytes: write3mf(objects, { title: pack.caseId, description }) });
  return files;
}

/** A thickened vessel says so wherever its name is shown. */
function objectName(pack: PrintPackage, name: string): string {
  const isThick = pack.result.thickened?.some((t) => t.name === name);
  return isThick ? `${name} (thickened, not to size)` : name;
}
