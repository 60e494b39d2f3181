import type { VesselMeasure } from '../../geometry/measure.js';
import { Polyline } from '../../geometry/polyline.js';
import { sectionAt } from '../../geometry/section.js';
import type { Surface } from '../../geometry/surface.js';
import type { GaugeDraft, GaugeInput } from './gauge.js';
import { jawsReach } from './jaws.js';

/** Least distance between two check points on one vessel, mm. */
const APART_MM = 4;
/** Greatest distance between sections of a profile, mm; a check point is moved to the nearest. */
const SAMPLE_MM = 1;
const MOST_DIAMETERS = 3;
/** Ratio of widths of a printed section, relative to that of the vessel, above which another body touches it. */
const TOUCHING = 1.1;
/** Distance to either side of the middle that is tried if the middle cannot be measured, mm. */
const ASIDE_MM = 5;
/** A diameter that a tag changes by more than this is not that of the vessel, mm. */
const STEM_MM = 0.005;

/** Diameters of one vessel that jaws can reach and where nothing touches it, those of its landing zone first. */
export function diameters(
  vessel: VesselMeasure,
  input: GaugeInput,
  { outside, tagged, printed }: Record<'outside' | 'tagged' | 'printed', Surface>,
): GaugeDraft[] {
  if (vessel.centrelineMm.length < 2) return [];
  const line = new Polyline(vessel.centrelineMm);
  const calibre = vessel.calibreMm.mean;
  const first = vessel.profile[0]?.atMm ?? 0;
  const away = Math.max(2, 0.75 * calibre);
  const wanted = landingPlaces(vessel, first);
  const most = wanted.length > 1 ? wanted.length + 1 : MOST_DIAMETERS;
  wanted.push({ places: [first + away], words: 'near its far end' });
  wanted.push({
    places: [vessel.lengthMm - Math.max(2, 1.2 * calibre)],
    words: vessel.role === 'branch' ? 'before it joins its parent' : 'just before its neck',
  });
  const half = vessel.lengthMm / 2;
  wanted.push({ places: [half, half - ASIDE_MM, half + ASIDE_MM], words: 'half way along' });
  const taken: number[] = [];
  const draftAt = (wish: number, words: string): GaugeDraft | undefined => {
    if (wish < first + 1 || wish > vessel.lengthMm - 1) return undefined;
    const sample = vessel.profile.reduce((a, b) =>
      Math.abs(b.atMm - wish) < Math.abs(a.atMm - wish) ? b : a,
    );
    const atMm = sample.atMm;
    if (sample.atOpening || taken.some((t) => Math.abs(t - atMm) < APART_MM - SAMPLE_MM)) return undefined;
    if (vessel.branches.some((b) => atMm > b.fromMm - 2 && atMm < b.toMm + 2)) return undefined;
    const point = line.pointAt(atMm);
    const along = line.directionAt(atMm, Math.max(1, calibre / 2));
    const section = sectionAt(outside, point, along);
    if (!section || !jawsReach(printed, point, along)) return undefined;
    const expectedMm = (section.minMm + section.maxMm) / 2;
    // The stem of a tag starts here.
    const whole = sectionAt(tagged, point, along);
    if (!whole || Math.abs((whole.minMm + whole.maxMm) / 2 - expectedMm) > STEM_MM) return undefined;
    const isThick = isThickened(input, vessel.name, atMm);
    // Another vessel touches here: the outline surrounds both and is less round than the vessel's.
    const roundness = (sample.maxMm + 2 * input.wallMm) / (sample.minMm + 2 * input.wallMm);
    if (!isThick && section.maxMm > TOUCHING * roundness * section.minMm + 0.1) return undefined;
    // The outline is not a ring around this vessel, as when the plane enters the sac.
    if (expectedMm > 1.6 * (sample.maxMm + 2 * input.wallMm) && !isThick) return undefined;
    return {
      kind: 'diameter',
      what: `${input.wallMm > 0 ? 'Outer diameter' : 'Diameter'} of ${vessel.name} ${words}, ${atMm.toFixed(1)} mm from its far end: turn the caliper about the vessel and write the mean of the smallest and the largest reading.`,
      point: section.centre,
      vessel: vessel.name,
      atMm,
      vesselMm: (sample.minMm + sample.maxMm) / 2,
      along,
      expectedMm,
      notToSize: isThick,
    };
  };
  const out: GaugeDraft[] = [];
  for (const { places, words } of wanted) {
    if (out.length === most) break;
    for (const place of places) {
      const draft = draftAt(place, words);
      if (!draft) continue;
      taken.push(draft.atMm!);
      out.push(draft);
      break;
    }
  }
  return out;
}

/** Places for a diameter, mm from the far end; the first that can be measured is used. */
interface Wanted {
  places: number[];
  words: string;
}

/** Places along a landing zone, the middle first: three if it is long enough, else two or one. */
function landingPlaces(vessel: VesselMeasure, first: number): Wanted[] {
  const { landing } = vessel;
  if (!landing) return [];
  const past = vessel.branches.filter((b) => b.toMm <= landing.toMm).map((b) => b.toMm + 2.5);
  const from = Math.max(landing.fromMm + 0.5, first + 1.5, ...past);
  const to = Math.min(landing.toMm - 0.5, vessel.lengthMm - 1.5);
  const centre = to > from ? (from + to) / 2 : (landing.fromMm + landing.toMm) / 2;
  // An obstacle at an end, such as the stem of a tag, can be avoided by moving towards the middle.
  const inwards = (end: number): number[] =>
    [0, 1.5, 3, 4.5]
      .filter((step) => step === 0 || Math.abs(centre - end) - step >= APART_MM)
      .map((step) => end + Math.sign(centre - end) * step);
  const middle: Wanted = { places: [centre], words: 'in the middle of its landing zone' };
  const ends: Wanted[] = [
    { places: inwards(from), words: 'at the far end of its landing zone' },
    { places: inwards(to), words: 'at the sac end of its landing zone' },
  ];
  if (to - from >= 2 * APART_MM - 1) return [middle, ...ends];
  return to - from >= APART_MM ? ends : [middle];
}

const isThickened = (input: GaugeInput, name: string, atMm: number): boolean =>
  (input.thickened.get(name) ?? []).some((s) => atMm >= s.fromMm - 1 && atMm <= s.toMm + 1);
