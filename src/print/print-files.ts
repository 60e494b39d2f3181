import type { Vec3 } from '../foundation/vector.js';
import type { TriangleMesh } from '../mesh/mesh.js';
import { write3mf } from '../mesh/write-3mf.js';
import { writeStl } from '../mesh/write-stl.js';
import type { PrintPackage } from './assemble-package.js';
import { fileNames } from './print-result.js';
import { type PrintedPart, shownTogether } from './printed-part.js';
import { scaleText } from './tag.js';

type PrintedObject = Parameters<typeof write3mf>[0][number] & { colour: string };

/**
 * The mesh files of a printable export, paths relative to the print folder: a binary STL for every part and the fused model, and
 * `model.3mf` with the bodies to print: the fused model, or the halves of a cut one, then the structures next to it, each on the bed. The
 * structures of the fused model are stored outside the build, in their colours, so that no slicer prints them again. `thumbnailPng` is its
 * picture. Same package, same bytes.
 */
export function printFiles(
  pack: PrintPackage,
  thumbnailPng?: Uint8Array,
): { path: string; bytes: Uint8Array }[] {
  if (pack.parts.length === 0) return [];
  const names = fileNames(pack.parts);
  const marked = pack.mark === undefined ? '' : `${pack.mark}: `;
  const files = pack.parts.map((part, i) => ({
    path: names[i],
    bytes: writeStl(part.mesh, `${marked}${pack.caseId} ${part.name}`),
  }));
  const objects = printedObjects(pack);
  const { scale } = pack.result;
  const description = `${pack.mark === undefined ? '' : `STOP: ${pack.mark}. `}Scale ${scaleText(scale ?? 1)}. Not a medical device. Check the print with a caliper before anyone relies on it.`;
  files.push({
    path: 'model.3mf',
    bytes: write3mf(objects, { title: pack.caseId, description, thumbnailPng }),
  });
  return files;
}

/** The objects of the 3MF, printed ones first. */
export function printedObjects(pack: PrintPackage): PrintedObject[] {
  const built = pack.bed.map(({ part, axes, moveMm }) => ({
    name: objectName(pack, part),
    mesh: part.mesh,
    colour: part.colour,
    place: { axes: [axes.width, axes.depth, axes.up], moveMm },
  }));
  const held = shownTogether(pack.parts).filter((p) => !pack.bed.some(({ part }) => part === p));
  return [
    ...built,
    ...held.map((p) => ({
      name: objectName(pack, p),
      mesh: p.mesh,
      colour: p.colour,
      place: 'apart' as const,
    })),
  ];
}

/** What the thumbnail shows: the structures with their colours; of a cut model its halves, apart. */
export const shownBodies = (pack: PrintPackage): { mesh: TriangleMesh; colour: string; moveMm?: Vec3 }[] =>
  shownTogether(pack.parts).map((p) => ({
    mesh: p.mesh,
    colour: p.colour,
    ...(p.name === 'half-B' && pack.apartMm && { moveMm: pack.apartMm }),
  }));

/** A thickened vessel is marked as such wherever its name is shown, and a rod as not anatomy. */
function objectName(pack: PrintPackage, part: PrintedPart): string {
  if (part.role === 'strut') return `${part.name} (not anatomy)`;
  const isThick = pack.result.thickened?.some((t) => t.name === part.name);
  return isThick ? `${part.name} (thickened, not to size)` : part.name;
}
