import type { ReadVessel } from '../page-types.js';
import { allWith, byId, drawn, press } from './dom.js';
import { type Line, type Place, placeText } from './reading.js';

const WIDE = 360;
const HIGH = 120;
const EDGE = { left: 34, right: 8, top: 10, bottom: 22 };

/** The calibre along one vessel: a small chart, a slider to move along it, and a description of the place. */
export class Walk {
  private line: Line | undefined;
  private readonly lines: ReadonlyMap<string, Line>;
  private readonly chosen: (line: Line) => void;
  private readonly reached: (place: Place, line: Line) => void;

  /** `chosen`: a vessel was chosen in the table. `reached`: the reader moved along it. */
  constructor(
    lines: ReadonlyMap<string, Line>,
    chosen: (line: Line) => void,
    reached: (place: Place, line: Line) => void,
  ) {
    this.lines = lines;
    this.chosen = chosen;
    this.reached = reached;
    for (const [button, id] of allWith('vessel'))
      button.addEventListener('click', (event) => {
        event.stopPropagation();
        this.open(id, true);
      });
    for (const [row, id] of allWith('row')) row.addEventListener('click', () => this.open(id, true));
    this.slider.addEventListener('input', () => this.walkTo(Number(this.slider.value)));
  }

  private get slider(): HTMLInputElement {
    return byId<HTMLInputElement>('along-at');
  }

  /** Shows a vessel; with `fly` the picture moves there too. */
  open(id: string, fly: boolean): void {
    const line = this.lines.get(id);
    if (!line) return;
    this.line = line;
    const buttons = allWith('vessel');
    press(
      buttons.map(([button]) => button),
      buttons.find(([, own]) => own === id)?.[0],
    );
    for (const [row, own] of allWith('row')) row.classList.toggle('chosen', own === id);
    byId('along').hidden = false;
    byId('along-name').textContent = line.vessel.name;
    this.slider.max = line.vessel.lengthMm.toFixed(1);
    this.draw(line.vessel);
    const { landing } = line.vessel;
    if (fly) this.chosen(line);
    this.walkTo(landing ? (landing.fromMm + landing.toMm) / 2 : line.vessel.lengthMm / 2);
  }

  /** Follows a place read in the picture if it is on the vessel shown. */
  follow(place: Place): void {
    if (this.line?.vessel.id === place.vessel.id) this.say(place);
  }

  private walkTo(atMm: number): void {
    if (!this.line) return;
    const place = this.line.place(atMm);
    this.say(place);
    this.reached(place, this.line);
  }

  private say(place: Place): void {
    const text = `${placeText(place)}.`;
    this.slider.value = place.atMm.toFixed(1);
    this.slider.setAttribute('aria-valuetext', text);
    byId('along-text').textContent = text;
    const { x } = scales(place.vessel);
    const at = x(place.atMm).toFixed(1);
    const here = byId('profile').querySelector('.here');
    here?.setAttribute('x1', at);
    here?.setAttribute('x2', at);
  }

  private draw(vessel: ReadVessel): void {
    const svg = byId<SVGElement>('profile');
    const { x, y, top } = scales(vessel);
    svg.setAttribute('viewBox', `0 0 ${WIDE} ${HIGH}`);
    const path = (k: 1 | 2 | 3): string =>
      vessel.profile
        .map((s, i) => `${i === 0 ? 'M' : 'L'}${x(s[0]).toFixed(1)} ${y(s[k]).toFixed(1)}`)
        .join('');
    const back = [...vessel.profile].reverse();
    const band = `${path(3)}${back.map((s) => `L${x(s[0]).toFixed(1)} ${y(s[2]).toFixed(1)}`).join('')}Z`;
    const { landing } = vessel;
    const bottom = HIGH - EDGE.bottom;
    svg.replaceChildren(
      ...(landing
        ? [
            drawn('rect', {
              class: 'zone',
              x: x(landing.fromMm),
              y: EDGE.top,
              width: Math.max(0, x(landing.toMm) - x(landing.fromMm)),
              height: bottom - EDGE.top,
            }),
            // Kept inside the chart if the zone begins near its end.
            drawn(
              'text',
              {
                class: 'small',
                x: Math.min(x(landing.fromMm) + 4, WIDE - EDGE.right - 68),
                y: bottom - 5,
              },
              'landing zone',
            ),
          ]
        : []),
      drawn('path', { class: 'band', d: band }),
      drawn('path', { class: 'curve', d: path(1) }),
      drawn('path', { class: 'axis', d: `M${EDGE.left} ${EDGE.top}V${bottom}H${WIDE - EDGE.right}` }),
      ...[0, top / 2, top].map((mm) =>
        drawn('text', { class: 'small end', x: EDGE.left - 4, y: y(mm) + 4 }, String(mm)),
      ),
      drawn('text', { class: 'small', x: EDGE.left, y: HIGH - 7 }, 'far end'),
      drawn(
        'text',
        { class: 'small end', x: WIDE - EDGE.right, y: HIGH - 7 },
        vessel.neckAtMm === undefined ? 'joins its vessel' : 'neck of the sac',
      ),
      drawn('text', { class: 'small', x: EDGE.left + 4, y: EDGE.top + 8 }, 'calibre, mm'),
      drawn('line', { class: 'here', x1: 0, x2: 0, y1: EDGE.top, y2: bottom }),
    );
  }
}

function scales(vessel: ReadVessel): { x(mm: number): number; y(mm: number): number; top: number } {
  const most = Math.max(1, ...vessel.profile.map((sample) => sample[3]));
  const top = 2 * Math.ceil((most * 1.25) / 2);
  const bottom = HIGH - EDGE.bottom;
  return {
    x: (mm) => EDGE.left + (mm / Math.max(vessel.lengthMm, 0.1)) * (WIDE - EDGE.left - EDGE.right),
    y: (mm) => bottom - (mm / top) * (bottom - EDGE.top),
    top,
  };
}
