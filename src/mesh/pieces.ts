import { type Finding, finding } from '../foundation/finding.js';
import { coordinates, fixed } from '../foundation/number-text.js';
import type { LoadedSurface } from './load-surface.js';
import { compacted } from './read/mesh-builder.js';
import { sharedSurface } from './shared-arrays.js';
import { buildTopology } from './topology.js';

/** A connected body of a surface with its cavities. */
interface Piece {
  /** Component numbers, the body first. */
  components: number[];
  /** Without the volume of its cavities. */
  volumeMm3: number;
}

export interface PieceOptions {
  /** The structure's name in findings. */
  label: string;
  /** Pieces below this volume are left out by request, mm³. */
  dropBelowMm3?: number;
  /** A second piece with at least this share of the volume may belong to the structure, which is a stop. */
  stopShare: number;
  /** Keeps a piece in addition to the largest, by its box, if a place named in the case is in it. */
  alsoKeep?: (box: { low: number[]; high: number[] }) => boolean;
}

export interface Single {
  surface: LoadedSurface;
  /** True if so much is in another piece that the structure must not be measured. */
  isBroken: boolean;
}

/**
 * The largest piece of a surface by volume, with its cavities, as a separate surface; one finding on the pieces left out replaces that on
 * separate parts. A surface of one piece is returned as it is.
 */
export function largestPiece(surface: LoadedSurface, options: PieceOptions): Single {
  const pieces = piecesOf(surface);
  if (pieces.length < 2) return { surface, isBroken: false };
  const total = pieces.reduce((sum, piece) => sum + piece.volumeMm3, 0);
  const limit = options.dropBelowMm3 ?? 0;
  const boxes = options.alsoKeep && boxesOf(surface);
  const stays = ({ components: [body] }: Piece, i: number): boolean =>
    i === 0 || (boxes !== undefined && options.alsoKeep!(boxes[body]));
  const kept = pieces.filter(stays);
  const rest = pieces.filter((piece, i) => !stays(piece, i));
  const small = rest.filter((piece) => piece.volumeMm3 < limit);
  const large = rest.filter((piece) => piece.volumeMm3 >= limit);
  const isBroken = large.length > 0 && large[0].volumeMm3 >= options.stopShare * total;
  const findings = surface.findings.filter(({ id }) => id !== 'several-components');
  if (rest.length > 0) findings.push(leftOut(surface, { kept, small, large, total, isBroken }, options));
  const single = onlyComponents(
    surface,
    kept.flatMap((piece) => piece.components),
  );
  return {
    surface: {
      ...single,
      findings:
        single.topology.loops.length > 0 ? findings : findings.filter(({ id }) => id !== 'open-surface'),
    },
    isBroken,
  };
}

/** For a structure that is not followed: pieces below the volume are left out, all others stay. */
export function withoutSmallPieces(
  surface: LoadedSurface,
  label: string,
  dropBelowMm3: number,
): LoadedSurface {
  const pieces = piecesOf(surface);
  const kept = pieces.filter((piece, i) => i === 0 || piece.volumeMm3 >= dropBelowMm3);
  if (kept.length === pieces.length) return surface;
  const small = pieces.slice(kept.length);
  const findings = surface.findings.filter(({ id }) => id !== 'several-components' || kept.length > 1);
  findings.push(finding('note', 'loose-pieces', label, `${smallText(surface, small, dropBelowMm3)}.`));
  return {
    ...onlyComponents(
      surface,
      kept.flatMap((piece) => piece.components),
    ),
    findings,
  };
}

/** Bodies with their cavities, largest volume first. */
function piecesOf({ hosts, componentVolumesMm3 }: LoadedSurface): Piece[] {
  const pieces = new Map<number, Piece>();
  componentVolumesMm3.forEach((volumeMm3, c) => {
    if (!hosts.has(c)) pieces.set(c, { components: [c], volumeMm3: Math.abs(volumeMm3) });
  });
  for (const [cavity, host] of hosts) {
    const piece = pieces.get(host);
    if (!piece) continue;
    piece.components.push(cavity);
    piece.volumeMm3 -= Math.abs(componentVolumesMm3[cavity]);
  }
  return [...pieces.values()].sort((a, b) => b.volumeMm3 - a.volumeMm3 || a.components[0] - b.components[0]);
}

interface Sorted {
  kept: readonly Piece[];
  small: readonly Piece[];
  large: readonly Piece[];
  total: number;
  isBroken: boolean;
}

/** Below this a piece is an artefact of the surface, not segmented tissue: a twentieth of a voxel of 0.5 mm. */
const SPECK_MM3 = 0.005;

function leftOut(
  surface: LoadedSurface,
  { kept, small, large, total, isBroken }: Sorted,
  { label, dropBelowMm3 }: PieceOptions,
): Finding {
  const percent = (mm3: number): string => `${fixed((100 * mm3) / total, 1)} %`;
  const volume = (pieces: readonly Piece[]): number => pieces.reduce((sum, p) => sum + p.volumeMm3, 0);
  const dropped = small.length > 0 ? ` ${smallText(surface, small, dropBelowMm3!)}.` : '';
  const all = kept.length + small.length + large.length;
  const head = `The surface falls into ${all} pieces that are not connected; the largest has ${percent(kept[0].volumeMm3)} of the volume.`;
  if (large.length === 0)
    return finding('note', 'loose-pieces', label, `${head}${dropped} Only it was measured.`);
  if (large[0].volumeMm3 < SPECK_MM3) {
    const specks = large.length === 1 ? 'One speck' : `${large.length} specks`;
    return finding(
      'note',
      'loose-pieces',
      label,
      `${head} ${specks} below ${SPECK_MM3} mm3 ${large.length === 1 ? 'was' : 'were'} left out.${dropped} Only it was measured.`,
    );
  }
  const count = large.length === 1 ? 'One other piece' : `${large.length} other pieces`;
  const next = `${fixed(large[0].volumeMm3, 2)} mm3 (${percent(large[0].volumeMm3)}) at ${placeOf(surface, large[0])}`;
  const others =
    large.length === 1
      ? `${count} of ${next} was left out.`
      : `${count} of together ${fixed(volume(large), 2)} mm3 were left out, the largest of ${next}.`;
  if (isBroken)
    return finding(
      'stop',
      'loose-pieces',
      label,
      `${head} ${others}${dropped} So large a piece may belong to it: it was not measured. Join the pieces where the surface was segmented, close a gap between them with surfaces.mend, or take out what does not belong.`,
    );
  const above = Math.ceil(large[0].volumeMm3 + 1e-9);
  return finding(
    'caution',
    'loose-pieces',
    label,
    `${head} ${others}${dropped} Only it was measured. Check whether they belong to it; where they do not, "drop_below: ${above} mm3" under surfaces says so.`,
  );
}

function smallText(surface: LoadedSurface, small: readonly Piece[], dropBelowMm3: number): string {
  const together = small.reduce((sum, p) => sum + p.volumeMm3, 0);
  const one = small.length === 1;
  return `${small.length} ${one ? 'piece' : 'pieces'} below ${dropBelowMm3} mm3 (surfaces.drop_below) ${one ? 'was' : 'were'} left out, ${fixed(together, 2)} mm3 together, the largest ${fixed(small[0].volumeMm3, 2)} mm3 at ${placeOf(surface, small[0])}`;
}

function placeOf({ mesh, topology }: LoadedSurface, { components: [body] }: Piece): string {
  const p = 3 * mesh.triangles[3 * topology.component.indexOf(body)];
  return `(${coordinates(mesh.positions.subarray(p, p + 3), 2)}) mm`;
}

/** Boxes of all components. */
function boxesOf({ mesh, topology }: LoadedSurface): { low: number[]; high: number[] }[] {
  const boxes = Array.from(topology.componentSizes, () => ({
    low: [Infinity, Infinity, Infinity],
    high: [-Infinity, -Infinity, -Infinity],
  }));
  for (let c = 0; c < mesh.triangles.length; c++) {
    const { low, high } = boxes[topology.component[(c / 3) | 0]];
    for (let k = 0; k < 3; k++) {
      const x = mesh.positions[3 * mesh.triangles[c] + k];
      if (x < low[k]) low[k] = x;
      if (x > high[k]) high[k] = x;
    }
  }
  return boxes;
}

/** The surface of some components only, with vertices and triangles in their order. */
function onlyComponents(surface: LoadedSurface, components: readonly number[]): LoadedSurface {
  const { mesh, topology } = surface;
  const isKept = new Uint8Array(topology.componentSizes.length);
  for (const c of components) isKept[c] = 1;
  const only = compacted(
    mesh.positions,
    mesh.triangles.filter((_, c) => isKept[topology.component[(c / 3) | 0]] === 1),
  );
  const joined = buildTopology(only);
  // components keep the order of their first triangle
  const order = [...components].sort((a, b) => a - b);
  const now = new Map(order.map((c, i) => [c, i]));
  const hosts = new Map(
    [...surface.hosts].flatMap(([c, host]) =>
      now.has(c) && now.has(host) ? [[now.get(c)!, now.get(host)!] as const] : [],
    ),
  );
  return sharedSurface({
    ...surface,
    mesh: only,
    topology: joined,
    cavities: [...hosts.keys()],
    hosts,
    componentVolumesMm3: Float64Array.from(order, (c) => surface.componentVolumesMm3[c]),
  });
}
