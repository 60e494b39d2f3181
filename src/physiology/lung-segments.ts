import type { Lobe } from '../case/case.js';

export type Side = 'left' | 'right';

interface LobeCount {
  /** Segments by name; the number of names counts, so the left S1+2 is two and the left S7+8 is one. */
  segments: readonly string[];
  subsegments: number;
}

/**
 * Segments and subsegments of each lobe: 19 and 42 in both lungs.
 * Source: BTS counting (Thorax 2001;56:89 [bts-scts-2001] and 2010;65 suppl III [bts-2010-resection], from memory). Other ways of
 * counting the left lung give 18 or 20; the left upper lobe here includes the lingula, which is also listed separately.
 */
const LOBES: Record<Side, Partial<Record<Lobe, LobeCount>>> = {
  right: {
    upper: { segments: ['S1', 'S2', 'S3'], subsegments: 6 },
    middle: { segments: ['S4', 'S5'], subsegments: 4 },
    lower: { segments: ['S6', 'S7', 'S8', 'S9', 'S10'], subsegments: 12 },
  },
  left: {
    upper: { segments: ['S1', 'S2', 'S3', 'S4', 'S5'], subsegments: 10 },
    lingula: { segments: ['S4', 'S5'], subsegments: 4 },
    lower: { segments: ['S6', 'S7+8', 'S9', 'S10'], subsegments: 10 },
  },
};

/** The segments of a lobe; undefined if that side has no such lobe. */
export function lobeSegments(side: Side | undefined, lobe: Lobe | undefined): LobeCount | undefined {
  return side && lobe ? LOBES[side][lobe] : undefined;
}

/** The lobes of the segments (counted names), from the top; `whole` if they include every segment of the lobe. */
export function lobesOf(side: Side, segments: readonly string[]): { lobe: Lobe; whole: boolean }[] {
  const lobes = (['upper', 'middle', 'lower'] as const).flatMap((lobe) => {
    const all = LOBES[side][lobe]?.segments ?? [];
    const held = all.filter((segment) => segments.includes(segment));
    return held.length === 0 ? [] : [{ lobe: lobe as Lobe, whole: held.length === all.length }];
  });
  const lingula = LOBES[side].lingula?.segments ?? [];
  // The lingula alone is named as such; with more of the upper lobe it is that lobe.
  const upperHeld = (LOBES[side].upper?.segments ?? []).filter((segment) => segments.includes(segment));
  if (upperHeld.length === 0 || !upperHeld.every((segment) => lingula.includes(segment))) return lobes;
  const isWhole = upperHeld.length === lingula.length;
  return lobes.map((entry) => (entry.lobe === 'upper' ? { lobe: 'lingula', whole: isWhole } : entry));
}

/**
 * Segment names as the table counts them, each once: `S9a` is in S9; on the left `S1+2` is S1 and S2, `S8` is S7+8.
 * Names that do not exist on that side are returned separately.
 */
export function countedSegments(
  side: Side,
  names: readonly string[],
): { known: string[]; unknown: string[] } {
  const all = new Set(Object.values(LOBES[side]).flatMap((lobe) => lobe.segments));
  const known = new Set<string>();
  const unknown: string[] = [];
  for (const name of names) {
    const plain = /^S?(\d{1,2}(?:\+\d{1,2})?)[a-c]*$/i.exec(name.trim())?.[1];
    const canonical = plain === undefined ? [] : expand(side, plain);
    if (canonical.length > 0 && canonical.every((segment) => all.has(segment)))
      for (const s of canonical) known.add(s);
    else unknown.push(name);
  }
  const order = [...all];
  return { known: [...known].sort((a, b) => order.indexOf(a) - order.indexOf(b)), unknown };
}

/** Names of counted segments: the left S1+2 is one name for two counted segments. */
export function segmentNames(side: Side, counted: readonly string[]): string[] {
  if (side === 'right' || !counted.includes('S1') || !counted.includes('S2')) return [...counted];
  return counted
    .filter((segment) => segment !== 'S2')
    .map((segment) => (segment === 'S1' ? 'S1+2' : segment));
}

/** Subsegments of one counted segment: those of its lobe divided evenly, since segments have two or three. */
export function subsegmentsOf(side: Side, segment: string): number {
  for (const lobe of Object.values(LOBES[side])) {
    if (lobe.segments.includes(segment)) return lobe.subsegments / lobe.segments.length;
  }
  return 0;
}

function expand(side: Side, number: string): string[] {
  if (side === 'left' && (number === '7' || number === '8' || number === '7+8')) return ['S7+8'];
  return number.split('+').map((part) => `S${Number(part)}`);
}
