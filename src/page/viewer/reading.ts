import type { ReadVessel, Triple } from '../page-types.js';

/** A place on a vessel's centreline. */
export interface Place {
  vessel: ReadVessel;
  /** mm from the far end. */
  atMm: number;
  point: Triple;
  /** Unit direction towards the sac. */
  along: Triple;
  /** From the given point to the centreline, mm. */
  awayMm: number;
}

const between = (a: Triple, b: Triple, t: number): Triple => [
  a[0] + (b[0] - a[0]) * t,
  a[1] + (b[1] - a[1]) * t,
  a[2] + (b[2] - a[2]) * t,
];

export const apart = (a: Triple, b: Triple): number => Math.hypot(a[0] - b[0], a[1] - b[1], a[2] - b[2]);

/** A centreline with the position of each point, mm from the far end, scaled to the measured length. */
export class Line {
  readonly vessel: ReadVessel;
  readonly at: number[];

  constructor(vessel: ReadVessel) {
    this.vessel = vessel;
    let sum = 0;
    const raw = vessel.centreline.map((point, i) => {
      if (i > 0) sum += apart(point, vessel.centreline[i - 1]);
      return sum;
    });
    const factor = sum > 0 ? vessel.lengthMm / sum : 1;
    this.at = raw.map((at) => at * factor);
  }

  /** The place of the centreline nearest to a point. */
  nearest(point: Triple): Place {
    const { centreline } = this.vessel;
    let best: Place | undefined;
    for (let i = 1; i < centreline.length; i++) {
      const [a, b] = [centreline[i - 1], centreline[i]];
      const d = [b[0] - a[0], b[1] - a[1], b[2] - a[2]];
      const square = d[0] ** 2 + d[1] ** 2 + d[2] ** 2;
      const raw =
        (d[0] * (point[0] - a[0]) + d[1] * (point[1] - a[1]) + d[2] * (point[2] - a[2])) / (square || 1);
      const t = Math.max(0, Math.min(1, raw));
      const foot = between(a, b, t);
      const awayMm = apart(foot, point);
      if (!best || awayMm < best.awayMm) best = { ...this.placeOn(i, t), awayMm };
    }
    return best!;
  }

  /** The place at a distance from the far end, mm. */
  place(atMm: number): Place {
    const last = this.at.length - 1;
    let i = 1;
    while (i < last && this.at[i] < atMm) i++;
    const span = this.at[i] - this.at[i - 1];
    return this.placeOn(i, span > 0 ? Math.max(0, Math.min(1, (atMm - this.at[i - 1]) / span)) : 0);
  }

  /** Points of the centreline from one place to another, ends included. */
  stretch(fromMm: number, toMm: number): Triple[] {
    const inner = this.vessel.centreline.filter(
      (_, i) => this.at[i] > fromMm + 0.05 && this.at[i] < toMm - 0.05,
    );
    return [this.place(fromMm).point, ...inner, this.place(toMm).point];
  }

  private placeOn(i: number, t: number): Place {
    const [a, b] = [this.vessel.centreline[i - 1], this.vessel.centreline[i]];
    const d = apart(a, b) || 1;
    return {
      vessel: this.vessel,
      atMm: this.at[i - 1] + (this.at[i] - this.at[i - 1]) * t,
      point: between(a, b, t),
      along: [(b[0] - a[0]) / d, (b[1] - a[1]) / d, (b[2] - a[2]) / d],
      awayMm: 0,
    };
  }
}

/** The measured section nearest to a place; undefined if none is within 1.5 mm (as at the ends). */
export function sectionAt(vessel: ReadVessel, atMm: number): ReadVessel['profile'][number] | undefined {
  let best: ReadVessel['profile'][number] | undefined;
  for (const sample of vessel.profile)
    if (!best || Math.abs(sample[0] - atMm) < Math.abs(best[0] - atMm)) best = sample;
  return best && Math.abs(best[0] - atMm) <= 1.5 ? best : undefined;
}

/** A description of a place. */
export function placeText({ vessel, atMm }: Place): string {
  const section = sectionAt(vessel, atMm);
  const calibre = section
    ? `${section[1].toFixed(1)} mm calibre${
        section[3] - section[2] > 0.15
          ? ` (widths ${section[2].toFixed(1)} to ${section[3].toFixed(1)} mm)`
          : ''
      }${section[4] ? ', at the opening of a branch' : ''}`
    : 'no section was measured here';
  const left = vessel.neckAtMm === undefined ? undefined : vessel.neckAtMm - atMm;
  const where =
    left === undefined
      ? `${atMm.toFixed(1)} mm from its far end`
      : `${Math.max(0, left).toFixed(1)} mm from the neck of the sac`;
  const zone =
    vessel.landing && atMm >= vessel.landing.fromMm && atMm <= vessel.landing.toMm
      ? ', in the landing zone'
      : '';
  return `${vessel.name}: ${calibre}, ${where}${zone}`;
}
