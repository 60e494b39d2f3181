import { InputFailure } from '../foundation/failure.js';
import { fixed, pointText } from '../foundation/number-text.js';
import type { Vec3 } from '../foundation/vector.js';
import { median } from '../geometry/statistics.js';
import { numberOf, type Rules } from '../rules/rule.js';
import { type GreyVolume, valueAt } from '../volume/ct/grey-volume.js';
import { calibreAt, calibresOf, lineOf, nearestStation, runsOf } from './tube.js';
import type { Vessel } from './vessel.js';

export const huText = (volume: GreyVolume, at: Vec3): string => {
  const value = valueAt(volume, ...at);
  return Number.isNaN(value) ? 'it is outside the scan' : `${fixed(value, 0)} HU were found there`;
};

/** Throws InputFailure (2) with all problems, if there are any. */
export function refuse(problems: readonly string[]): void {
  if (problems.length > 0) throw new InputFailure(2, problems);
}

/** Vessels whose axis passes through a place that is not lumen. */
export function darkWays(volume: GreyVolume, vessels: readonly Vessel[], rules: Rules): string[] {
  const least = numberOf(rules, 'proposal-continuous');
  return vessels.flatMap(({ end, tube, start, neck }) => {
    const along = tube.centres.map((centre) => valueAt(volume, ...centre));
    const usual = median(along.slice(start, Math.max(start + 1, neck)));
    let darkest = { share: Number.POSITIVE_INFINITY, hu: 0, station: start };
    for (let i = start + 1; i < neck; i++) {
      const hu = (along[i - 1] + along[i] + along[i + 1]) / 3;
      const outside = tube.lumenHu[i] - tube.contrastHu[i];
      const share = (hu - outside) / (usual - outside);
      if (share < darkest.share) darkest = { share, hu, station: i };
    }
    if (darkest.share >= least) return [];
    return [
      `${end.name}: the way from its point, where ${huText(volume, end.at)}, to the sac passes ${fixed(darkest.hu, 0)} HU at ${pointText(tube.centres[darkest.station])}, which is not a lumen: the point is in another vessel, or the vessel is too thin there to be followed.`,
    ];
  });
}

/** Vessels with a stretch of more than a calibre with nothing darker around them in most directions, because of bone or another vessel. */
export function withoutWalls(volume: GreyVolume, vessels: readonly Vessel[], rules: Rules): string[] {
  const most = numberOf(rules, 'proposal-no-wall');
  return vessels.flatMap(({ end, tube, start, last }) => {
    const line = lineOf(tube);
    const usual = median(
      calibresOf(tube)
        .slice(start, last + 1)
        .filter((_, i) => tube.hidden[start + i] <= most),
    );
    for (const { from, to } of runsOf(start, last, (i) => tube.hidden[i] > most || undefined)) {
      const mm = line.at[to] - line.at[from];
      if (!(mm <= Math.max(2, usual)))
        return [
          `${end.name}: over ${fixed(mm, 0)} mm about ${pointText(tube.centres[middleOf(from, to)])} no wall is seen in most directions: bone or another vessel is beside it. At its point ${huText(volume, end.at)}. Move the point nearer to the sac, or draw the surface by hand.`,
        ];
    }
    return [];
  });
}

/** The station in the middle of a run. */
const middleOf = (from: number, to: number): number => Math.floor((from + to + 1) / 2);

/** Length of vessel on either side with which a passage is compared, mm. */
const BESIDE_MM = 8;

/** Vessels whose path leads through a narrow contact into another. */
export function throughContacts(volume: GreyVolume, vessels: readonly Vessel[], rules: Rules): string[] {
  const contact = numberOf(rules, 'proposal-contact');
  return vessels.flatMap(({ end, tube, start, neck }) => {
    const line = lineOf(tube);
    const calibres = calibresOf(tube);
    const between = (from: number, to: number): number =>
      median(calibres.filter((_, i) => i >= start && i <= neck && line.at[i] >= from && line.at[i] <= to));
    for (let i = start; i <= neck; i++) {
      const at = line.at[i];
      const beside = Math.min(between(at - BESIDE_MM, at - 1), between(at + 1, at + BESIDE_MM));
      if (calibres[i] < contact * beside)
        return [
          `${end.name}: the way from its point, where ${huText(volume, end.at)}, to the sac passes a contact of ${fixed(calibres[i], 1)} mm at ${pointText(tube.centres[i])}, under half of the vessels on both sides: the point is in a vessel that only touches.`,
        ];
    }
    return [];
  });
}

/** Points in the same vessel, and vessels that run through another one to the sac. */
export function sharedWays(volume: GreyVolume, vessels: readonly Vessel[], rules: Rules): string[] {
  const problems: string[] = [];
  const told = new Set<string>();
  for (const one of vessels)
    for (const other of vessels) {
      if (one === other || told.has(`${other.end.name} ${one.end.name}`)) continue;
      const near = nearestStation(one.tube, other.end.at, one.neck);
      if (near.mm > 0.6 * calibreAt(one.tube, near.station) + 0.3 || near.station < one.start - 4) continue;
      told.add(`${one.end.name} ${other.end.name}`);
      problems.push(
        `${other.end.name}: its point is in the same vessel as that of ${one.end.name}; ${huText(volume, other.end.at)}. Move one of them, or leave it out.`,
      );
    }
  if (problems.length > 0) return problems;
  const joinsOf = (vessel: Vessel): { other: Vessel; station: number }[] =>
    vessels
      .filter((other) => other !== vessel && other.end.of !== vessel.end.name)
      .flatMap((other) => {
        const station = entry(vessel, other);
        return station === undefined ? [] : [{ other, station }];
      })
      .sort((a, b) => a.station - b.station);
  for (const vessel of vessels) {
    const { end, tube } = vessel;
    const [first] = joinsOf(vessel);
    if (end.role === 'branch') {
      if (first?.other.end.name === end.of) continue;
      problems.push(
        `${end.name}: the way from its point, where ${huText(volume, end.at)}, leads ${first ? `into ${first.other.end.name}` : 'to the sac'}, not to ${end.of}. Correct its point, or its role.`,
      );
      continue;
    }
    if (!first) continue;
    const line = lineOf(tube);
    const leftMm = line.at[vessel.neck] - line.at[first.station];
    if (leftMm <= Math.max(numberOf(rules, 'proposal-join'), calibreAt(first.other.tube, first.other.last)))
      continue;
    problems.push(
      `${end.name}: the way from its point, where ${huText(volume, end.at)}, leads into ${first.other.end.name} at ${pointText(tube.centres[first.station])}, ${fixed(leftMm, 0)} mm before the sac: it is a branch, or is in a vessel that does not lead to the sac.`,
    );
  }
  return problems;
}

/** First section of a vessel whose centre is inside another vessel before that one's neck. */
export function entry(vessel: Vessel, other: Vessel): number | undefined {
  // the course of a branch continues through its parent, where it widens
  const until = vessel.end.role === 'branch' ? vessel.tube.centres.length : vessel.neck;
  for (let i = vessel.start; i < until; i++) {
    const near = nearestStation(other.tube, vessel.tube.centres[i], other.neck);
    if (near.station >= other.start && near.mm < 0.5 * calibreAt(other.tube, near.station)) return i;
  }
  return undefined;
}

/** Vessels that are too thin, after their walls were fitted. */
export function tooThin(vessels: readonly Vessel[], voxelMm: number, rules: Rules): string[] {
  const least = numberOf(rules, 'proposal-least-voxels') * voxelMm;
  return vessels.flatMap(({ end, tube, start, last }) => {
    const calibreMm = median(calibresOf(tube).slice(start, last + 1));
    return calibreMm >= least
      ? []
      : [
          `${end.name}: the vessel is ${fixed(calibreMm, 1)} mm wide, ${fixed(calibreMm / voxelMm, 1)} voxels: too thin for a surface from this scan. Read a scan with thinner slices, or leave its point out and measure it on the angiogram.`,
        ];
  });
}

/** Vessels of which more than half of the wall is hidden by another over more than a calibre. */
export function hiddenWalls(
  vessels: readonly Vessel[],
  isOpacifiedBeside: (vessel: Vessel, station: number) => number,
  rules: Rules,
): string[] {
  const most = numberOf(rules, 'proposal-no-wall');
  return vessels.flatMap((vessel) => {
    const { end, tube, start, last } = vessel;
    const line = lineOf(tube);
    for (const { from, to } of runsOf(start, last, (i) => isOpacifiedBeside(vessel, i) > most || undefined)) {
      const mm = line.at[to] - line.at[from];
      const middle = middleOf(from, to);
      if (mm > calibreAt(tube, middle))
        return [
          `${end.name}: over ${fixed(mm, 0)} mm about ${pointText(tube.centres[middle])} another vessel hides more than half of its wall: the boundary between the two cannot be found. Draw the surface by hand.`,
        ];
    }
    return [];
  });
}
