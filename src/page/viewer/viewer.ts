/** The page's program: reads the lesion from the page, draws it, and connects the controls to the picture. */
import type { PageData, StepScene } from '../page-types.js';
import type { Looking } from './arm-camera.js';
import { cutControls } from './cut-controls.js';
import { allWith, byId, made, say } from './dom.js';
import { FollowPlan } from './follow-plan.js';
import { forPaper } from './for-paper.js';
import { handle } from './hand.js';
import { Overlay } from './overlay.js';
import { Line, type Place, placeText } from './reading.js';
import { Ruler } from './ruler.js';
import { Slices } from './slices.js';
import { Stage, type Touched } from './stage.js';
import { Walk } from './walk.js';

const data = JSON.parse(byId('lesion').textContent ?? '') as PageData;
const slices = data.scan && new Slices(data.scan, data.structures);
const lines = new Map(data.vessels.map((vessel) => [vessel.id, new Line(vessel)]));

function start(): void {
  document.body.classList.add('live');
  for (const [swatch, id] of allWith('swatch'))
    swatch.style.backgroundColor = data.structures.find((one) => one.id === id)?.colour ?? '';
  const canvas = made('canvas', '');
  const works = data.structures.length > 0 && canvas.getContext('webgl2') !== null;
  if (works) withPicture(canvas);
  else withoutPicture();
  document.documentElement.dataset.ready = works ? 'picture' : 'plain';
  performance.mark('lesion-drawn');
}

/** Steps, tables and the calibre along a vessel work without 3D. */
function withoutPicture(): void {
  document.body.classList.add('plain');
  byId('without').hidden = false;
  const walk = new Walk(
    lines,
    () => {},
    (place) => slices?.show(place),
  );
  new FollowPlan(data.plans, (step) => {
    for (const [view, id] of allWith('working')) view.classList.toggle('now', id === step?.at);
    if (step?.at) walk.open(step.at, false);
  });
}

function withPicture(canvas: HTMLCanvasElement): void {
  const host = byId('scene');
  host.append(canvas);
  let overlay: Overlay | undefined;
  const stage = new Stage(host, canvas, data, lines, () => {
    overlay?.update();
    const { laoDeg, cranialDeg, heightMm } = stage.arm.looking;
    host.dataset.looking = `${laoDeg.toFixed(1)} ${cranialDeg.toFixed(1)} ${heightMm.toFixed(1)}`;
  });
  overlay = new Overlay(host, stage, data);
  const over = overlay;
  const flight = new Flight(stage);
  viewButtons(stage, flight);
  const walk = new Walk(
    lines,
    (line) => {
      const { id } = line.vessel;
      flight.to([id], stage.step ? {} : armView(id));
    },
    (place, line) => {
      stage.readAt(place, line);
      slices?.show(place);
    },
  );
  const steps = followPlan(stage, flight, walk);
  wallControls(stage);
  const cut = cutControls(stage, data.patientAxes);
  const ruler = new Ruler(
    nameOf,
    (points) => stage.ruler(points),
    (on) => {
      over.cross.hidden = !on;
      host.classList.toggle('ruling', on);
    },
  );
  const under = (x: number, y: number): Touched | undefined =>
    stage.under(x, y, host.clientWidth, host.clientHeight);
  const read = (x: number, y: number): void => readUnder(under(x, y), x, y, { stage, over, walk });
  handle(host, stage.arm, {
    hover: (x, y) => (ruler.on ? undefined : read(x, y)),
    leave: () => over.tell(''),
    click: (x, y) => (ruler.on ? ruler.mark(under(x, y)) : read(x, y)),
    key: (key) => {
      const arms = data.vessels.filter((vessel) => vessel.view);
      if (/^[1-9]$/.test(key) && arms[Number(key) - 1]) flight.toZone(arms[Number(key) - 1].id);
      else if (key === 'Home') flight.to([], {});
      else if (key === '.') steps.go(1);
      else if (key === ',') steps.go(-1);
      else if (key === 'm' || key === 'M') ruler.turn(!ruler.on);
      else if (key === 'Enter' && ruler.on) ruler.mark(under(host.clientWidth / 2, host.clientHeight / 2));
      else if (key === 'c' || key === 'C') cut.next();
      else if (key === '[' || key === ']') cut.move(key === ']' ? 4 : -4);
      else if (key === 'Escape') {
        if (ruler.on) ruler.turn(false);
        cut.choose('off');
        over.tell('');
      } else return false;
      return true;
    },
  });
  forPaper(stage, over, host);
  stage.draw();
}

const VIEWS: Readonly<Record<string, Partial<Looking>>> = {
  front: { laoDeg: 0, cranialDeg: 0 },
  left: { laoDeg: 90, cranialDeg: 0 },
  right: { laoDeg: -90, cranialDeg: 0 },
  back: { laoDeg: 180, cranialDeg: 0 },
  below: { laoDeg: 0, cranialDeg: -90 },
};

const nameOf = (id: string): string => data.structures.find((one) => one.id === id)?.name ?? '';

/** The C-arm angles of a vessel's landing zone, and its middle; empty if it has no working view. */
function armView(id: string): Partial<Looking> {
  const vessel = lines.get(id)?.vessel;
  if (!vessel?.view) return {};
  const near = vessel.landing?.centre ? { centre: vessel.landing.centre } : {};
  return { laoDeg: vessel.view.laoDeg, cranialDeg: vessel.view.cranialDeg, ...near };
}

/** Moves the view to structures or to a landing zone. */
class Flight {
  private readonly stage: Stage;

  constructor(stage: Stage) {
    this.stage = stage;
  }

  to(ids: readonly string[], look: Partial<Looking>): void {
    this.stage.arm.fly({ ...this.stage.frameOf(ids, look), ...look });
  }

  toZone(id: string): void {
    this.to([id], armView(id));
    say(`C-arm view for ${nameOf(id)}`);
  }
}

function viewButtons(stage: Stage, flight: Flight): void {
  for (const [button, view] of allWith('view'))
    button.addEventListener('click', () => {
      flight.to([], view === 'whole' ? {} : VIEWS[view]);
      say(button.textContent ?? '');
    });
  for (const [button, id] of allWith('arm')) button.addEventListener('click', () => flight.toZone(id));
  for (const [button, way] of allWith('zoom'))
    button.addEventListener('click', () => stage.arm.zoom(Number(way) > 0 ? 1.25 : 0.8));
}

/** The steps of the plans, each with its own view. */
function followPlan(stage: Stage, flight: Flight, walk: Walk): FollowPlan {
  const lateral = data.patientAxes && data.side ? VIEWS[data.side] : {};
  return new FollowPlan(data.plans, (step: StepScene | undefined, plan) => {
    const was = stage.step;
    stage.step = step;
    stage.refresh();
    if (step?.at) {
      flight.to([step.at], armView(step.at));
      walk.open(step.at, false);
    } else if (step) flight.to([], lateral);
    else if (was && plan === 'none') flight.to([], {});
  });
}

/** The opacity of each wall, and what else is drawn. */
function wallControls(stage: Stage): void {
  for (const [fader, id] of allWith<HTMLInputElement>('fade'))
    fader.addEventListener('input', () => {
      const wall = stage.walls.find((one) => one.shown.id === id);
      if (!wall) return;
      wall.solid = Number(fader.value) / 100;
      fader.setAttribute('aria-valuetext', `${fader.value} percent of the wall`);
      stage.refresh();
    });
  for (const [box, what] of allWith<HTMLInputElement>('show'))
    box.addEventListener('change', () => {
      stage.shown[what as keyof Stage['shown']] = box.checked;
      stage.refresh();
    });
}

/** Shows the reading at the place that was hit. */
function readUnder(
  touched: Touched | undefined,
  x: number,
  y: number,
  { stage, over, walk }: { stage: Stage; over: Overlay; walk: Walk },
): void {
  if (!touched) {
    over.tell('');
    return;
  }
  const place: Place | undefined = lines.get(touched.id)?.nearest(touched.point);
  over.tell(place ? placeText(place) : structureText(touched), x, y);
  stage.readAt(place, place && lines.get(touched.id));
  if (place) {
    walk.follow(place);
    slices?.show(place);
  }
}

function structureText(touched: Touched): string {
  const one = data.structures.find(({ id }) => id === touched.id);
  if (one?.role === 'sac' && data.sac)
    return `sac: ${data.sac.volumeMl.toFixed(1)} mL, ${data.sac.longestMm.toFixed(0)} mm at its longest`;
  return `${one?.name}: ${one?.roleText}`;
}

start();
