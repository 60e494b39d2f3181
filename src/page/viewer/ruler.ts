import type { Triple } from '../page-types.js';
import { byId, say } from './dom.js';
import { apart } from './reading.js';
import type { Touched } from './stage.js';

/** Two points on the surface, and the straight distance between them. */
export class Ruler {
  on = false;
  private points: { name: string; point: Triple }[] = [];
  private readonly nameOf: (id: string) => string;
  private readonly draw: (points: Triple[]) => void;
  private readonly switched: (on: boolean) => void;

  constructor(
    nameOf: (id: string) => string,
    draw: (points: Triple[]) => void,
    switched: (on: boolean) => void,
  ) {
    this.nameOf = nameOf;
    this.draw = draw;
    this.switched = switched;
    byId('ruler').addEventListener('click', () => this.turn(!this.on));
    byId('ruler-clear').addEventListener('click', () => this.clear());
  }

  turn(on: boolean): void {
    this.on = on;
    byId('ruler').setAttribute('aria-pressed', String(on));
    if (on || this.points.length < 2) this.clear();
    this.switched(on);
  }

  clear(): void {
    this.points = [];
    this.update(
      this.on
        ? 'Mark the first point: click it, or turn it under the cross and press Enter.'
        : 'Two clicks on the surface give the straight distance between them.',
    );
  }

  /** Takes a point; if nothing is under the pointer, it reports that. */
  mark(touched: Touched | undefined): void {
    if (!touched) {
      this.update('No surface there. Mark a point on the lesion.');
      return;
    }
    if (this.points.length === 2) this.points = [];
    this.points.push({ name: this.nameOf(touched.id), point: touched.point });
    const [a, b] = this.points;
    this.update(
      b
        ? `${apart(a.point, b.point).toFixed(1)} mm in a straight line, from ${a.name} to ${b.name}.`
        : `First point on ${a.name}. Mark the second.`,
    );
  }

  private update(text: string): void {
    byId('ruler-text').textContent = text;
    byId<HTMLButtonElement>('ruler-clear').disabled = this.points.length === 0;
    this.draw(this.points.map(({ point }) => point));
    say(text);
  }
}
