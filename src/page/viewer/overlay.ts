import type { PageData, Triple } from '../page-types.js';
import { byId, drawn, made } from './dom.js';
import type { Stage } from './stage.js';
import { tenTo } from '../../foundation/power.js';

/** A label over the picture, attached to a point of the lesion. */
interface Tag {
  id: string;
  text: string;
  kind: 'name' | 'keep' | 'zone';
  point: Triple;
  element: HTMLElement;
  leader: SVGElement;
}

const LETTERS: readonly (readonly [string, string])[] = [
  ['L', 'R'],
  ['P', 'A'],
  ['H', 'F'],
];

/** Overlay on the picture: names with leaders, patient directions at the edges, scale bar, tooltip with the reading, cross. */
export class Overlay {
  private readonly host: HTMLElement;
  private readonly lines = drawn('svg', { class: 'leaders', 'aria-hidden': 'true' });
  private readonly bar = drawn('path', { class: 'bar' });
  private readonly barText = drawn('text', { class: 'bar-text' });
  private readonly tags: Tag[];
  private readonly letters: HTMLElement[];
  private readonly tip = made('div', 'tip');
  readonly cross = made('div', 'cross');
  private readonly stage: Stage;
  private readonly data: PageData;

  constructor(host: HTMLElement, stage: Stage, data: PageData) {
    this.host = host;
    this.stage = stage;
    this.data = data;
    this.tags = tagsOf(data, stage).map((tag) => ({
      ...tag,
      element: made('div', `tag ${tag.kind}`, tag.text),
      leader: drawn('line', { class: tag.kind }),
    }));
    this.letters = ['left', 'right', 'top', 'bottom'].map((edge) => made('div', `letter ${edge}`));
    this.tip.hidden = true;
    this.cross.hidden = true;
    for (const { leader } of this.tags) this.lines.append(leader);
    this.lines.append(this.bar, this.barText);
    const layer = made('div', 'over');
    layer.setAttribute('aria-hidden', 'true');
    layer.append(this.lines, ...this.tags.map((tag) => tag.element), ...this.letters, this.tip, this.cross);
    host.append(layer);
  }

  /** Updates the overlay to the picture just drawn. */
  update(): void {
    const { clientWidth: width, clientHeight: height } = this.host;
    this.lines.setAttribute('viewBox', `0 0 ${width} ${height}`);
    this.placeTags(width, height);
    this.placeBar(height);
    if (this.data.patientAxes) this.placeLetters();
    byId('facing').textContent = this.facing();
  }

  private placeTags(width: number, height: number): void {
    const { shown, walls } = this.stage;
    const [mx, my] = this.stage.onScreen(this.stage.bounds.centre, width, height);
    const visible = this.tags.filter((tag) => {
      const wall = walls.find((one) => one.shown.id === tag.id);
      if (!shown.names || !wall || wall.opacity < 0.05 || this.stage.isCutOff(tag.point)) return false;
      if (tag.kind === 'zone') return this.stage.zoneShown(tag.id);
      return tag.kind === 'keep' || wall.opacity > 0.05;
    });
    const taken: { x: number; y: number; w: number }[] = [];
    const order = visible
      .map((tag) => ({ tag, at: this.stage.onScreen(tag.point, width, height) }))
      .sort((a, b) => a.at[1] - b.at[1]);
    for (const tag of this.tags) {
      const on = visible.includes(tag);
      tag.element.hidden = !on;
      tag.leader.setAttribute('visibility', on ? 'visible' : 'hidden');
    }
    for (const { tag, at } of order) {
      const [x, y] = at;
      const inside = x > -20 && x < width + 20 && y > -20 && y < height + 20;
      tag.element.hidden = !inside;
      tag.leader.setAttribute('visibility', inside ? 'visible' : 'hidden');
      if (!inside) continue;
      const w = tag.element.offsetWidth;
      const away = Math.hypot(x - mx, y - my) || 1;
      const reach = tag.kind === 'zone' ? 46 : 34;
      const [ux, uy] = [(x - mx) / away || 0.7, (y - my) / away || -0.7];
      let left = Math.max(34, Math.min(width - w - 34, x + ux * reach + (ux < 0 ? -w : 0)));
      let top = Math.max(30, Math.min(height - 64, y + uy * reach - 12));
      for (let tries = 0; tries < 12; tries++) {
        const hit = taken.find((o) => Math.abs(o.y - top) < 26 && left < o.x + o.w + 6 && o.x < left + w + 6);
        if (!hit) break;
        top = hit.y + 27;
        if (top > height - 64) {
          top = 30;
          left = Math.max(34, left - w - 12);
        }
      }
      taken.push({ x: left, y: top, w });
      tag.element.style.transform = `translate(${Math.round(left)}px, ${Math.round(top)}px)`;
      const end = Math.max(left, Math.min(left + w, x));
      for (const [name, value] of Object.entries({ x1: x, y1: y, x2: end, y2: y < top ? top : top + 24 }))
        tag.leader.setAttribute(name, value.toFixed(1));
    }
  }

  private placeBar(height: number): void {
    const perMm = 1 / this.stage.arm.mmPerPx;
    const about = 110 / perMm;
    const power = tenTo(Math.floor(Math.log10(about)));
    const mm = ([5, 2].find((step) => step * power <= about) ?? 1) * power;
    const [x, y] = [40, height - 24];
    this.bar.setAttribute('d', `M${x} ${y - 5}v10m0-5h${(mm * perMm).toFixed(1)}m0-5v10`);
    this.barText.setAttribute('x', (x + mm * perMm + 8).toFixed(1));
    this.barText.setAttribute('y', String(y + 5));
    this.barText.textContent = `${mm} mm`;
  }

  private placeLetters(): void {
    const { right, up } = this.stage.arm.axes();
    const word = (v: { x: number; y: number; z: number }, sign: number): string =>
      [v.x, v.y, v.z]
        .map((part, k) => ({ part: part * sign, k }))
        .filter(({ part }) => Math.abs(part) > 0.35)
        .sort((a, b) => Math.abs(b.part) - Math.abs(a.part))
        .map(({ part, k }) => LETTERS[k][part > 0 ? 0 : 1])
        .join('');
    const texts = [word(right, -1), word(right, 1), word(up, 1), word(up, -1)];
    this.letters.forEach((letter, i) => {
      letter.textContent = texts[i];
    });
  }

  /** The direction of view, in C-arm terms. */
  facing(): string {
    if (!this.data.patientAxes) return 'Parallel projection; patient axes unknown.';
    const { laoDeg, cranialDeg } = this.stage.arm.looking;
    const lao = Math.round(laoDeg);
    const tilt = Math.round(cranialDeg);
    const side =
      Math.abs(tilt) > 85
        ? ''
        : lao === 0
          ? 'straight from the front'
          : Math.abs(lao) === 180
            ? 'straight from the back'
            : `${lao < 0 ? 'RAO' : 'LAO'} ${Math.abs(lao)}°`;
    const slope = tilt === 0 ? '' : `${tilt < 0 ? 'caudal' : 'cranial'} ${Math.abs(tilt)}°`;
    return `Seen ${[side, slope].filter((part) => part !== '').join(', ')}. L left, R right, A front, P back, H head, F feet of the patient.`;
  }

  /** Draws names, leaders, directions and scale bar on a copy of the picture, for printing. */
  paint(ink: CanvasRenderingContext2D): void {
    const frame = this.host.getBoundingClientRect();
    ink.font = 'bold 14px sans-serif';
    ink.textBaseline = 'middle';
    ink.lineWidth = 1;
    ink.strokeStyle = '#000000';
    for (const { leader } of this.tags) {
      if (leader.getAttribute('visibility') !== 'visible') continue;
      const [x1, y1, x2, y2] = ['x1', 'y1', 'x2', 'y2'].map((name) => Number(leader.getAttribute(name)));
      ink.beginPath();
      ink.moveTo(x1, y1);
      ink.lineTo(x2, y2);
      ink.stroke();
    }
    for (const element of [...this.tags.map((tag) => tag.element), ...this.letters]) {
      if (element.hidden || element.textContent === '') continue;
      const box = element.getBoundingClientRect();
      const [x, y] = [box.left - frame.left, box.top - frame.top];
      if (element.classList.contains('tag')) {
        ink.fillStyle = element.classList.contains('keep') ? '#00684c' : '#ffffff';
        ink.fillRect(x, y, box.width, box.height);
        ink.strokeRect(x, y, box.width, box.height);
      }
      ink.fillStyle = element.classList.contains('keep') ? '#ffffff' : '#000000';
      ink.fillText(
        element.textContent ?? '',
        x + (element.classList.contains('tag') ? 7 : 0),
        y + box.height / 2,
      );
    }
    ink.fillStyle = '#000000';
    ink.lineWidth = 2;
    ink.stroke(new Path2D(this.bar.getAttribute('d') ?? ''));
    ink.fillText(
      this.barText.textContent ?? '',
      Number(this.barText.getAttribute('x')),
      Number(this.barText.getAttribute('y')) - 5,
    );
  }

  /** A reading next to the pointer; an empty text hides it. */
  tell(text: string, x = 0, y = 0): void {
    this.tip.hidden = text === '';
    this.tip.textContent = text;
    if (text === '') return;
    const left = Math.min(this.host.clientWidth - this.tip.offsetWidth - 8, x + 16);
    const top =
      y + 20 + this.tip.offsetHeight > this.host.clientHeight ? y - this.tip.offsetHeight - 12 : y + 20;
    this.tip.style.transform = `translate(${Math.max(8, Math.round(left))}px, ${Math.round(top)}px)`;
  }
}

function tagsOf(data: PageData, stage: Stage): Omit<Tag, 'element' | 'leader'>[] {
  const named = data.structures.filter(({ role }) => role !== 'unnamed' && role !== 'left-out');
  const tags: Omit<Tag, 'element' | 'leader'>[] = named.map((one) => {
    const vessel = data.vessels.find((v) => v.id === one.id);
    const text = one.spare ? `KEEP ${one.name}${one.supplies ? ` · ${one.supplies}` : ''}` : one.name;
    return {
      id: one.id,
      text,
      kind: one.spare ? 'keep' : 'name',
      point: vessel ? vessel.centreline[0] : stage.frameOf([one.id]).centre,
    };
  });
  for (const vessel of data.vessels)
    if (vessel.landing?.centre)
      tags.push({
        id: vessel.id,
        text: `${vessel.name} landing ${vessel.landing.calibreMm.toFixed(1)} mm`,
        kind: 'zone',
        point: vessel.landing.centre,
      });
  return tags;
}
