/** The page's own program: reads the lesion out of the page, draws it, and ties the controls to the picture. */
import type { PageData, StepScene } from '../page-types.js';
import type { Looking } from './arm-camera.js';
import { allWith, byId, made, say } from './dom.js';
import { FollowPlan } from './follow-plan.js';
import { handle } from './hand.js';
import { Overlay } from './overlay.js';
import { Line, type Place, placeText } from './reading.js';
import { Ruler } from './ruler.js';
import { Slices } from './slices.js';
import { CUT_WAYS, type CutWay, Stage, type Touched } from './stage.js';
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

/** Steps, tables and the walk along a vessel need no 3D. */
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
  const nameOf = (id: string): string => data.structures.find((one) => one.id === id)?.name ?? '';
  const under = (x: number, y: number): Touched | undefined =>
    stage.under(x, y, host.clientWidth, host.clientHeight);

  const views: Readonly<Record<string, Partial<Looking>>> = {
    front: { laoDeg: 0, cranialDeg: 0 },
    left: { laoDeg: 90, cranialDeg: 0 },
    right: { laoDeg: -90, cranialDeg: 0 },
    back: { laoDeg: 180, cranialDeg: 0 },
    below: { laoDeg: 0, cranialDeg: -90 },
  };
  const flyTo = (ids: readonly string[], look: Partial<Looking>): void =>
    stage.arm.fly({ ...stage.frameOf(ids, look), ...look });
  const armView = (id: string): Partial<Looking> => {
    const vessel = lines.get(id)?.vessel;
    if (!vessel?.view) return {};
    const near = vessel.landing?.centre ? { centre: vessel.landing.centre } : {};
    return { laoDeg: vessel.view.laoDeg, cranialDeg: vessel.view.cranialDeg, ...near };
  };
  const flyToZone = (id: string): void => {
    flyTo([id], armView(id));
    say(`C-arm view for ${nameOf(id)}`);
  };
  for (const [button, view] of allWith('view'))
    button.addEventListener('click', () => {
      flyTo([], view === 'whole' ? {} : views[view]);
      say(button.textContent ?? '');
    });
  for (const [button, id] of allWith('arm')) button.addEventListener('click', () => flyToZone(id));
  for (const [button, way] of allWith('zoom'))
    button.addEventListener('click', () => stage.arm.zoom(Number(way) > 0 ? 1.25 : 0.8));

  const walk = new Walk(
    lines,
    (line) => {
      const { id } = line.vessel;
      flyTo([id], stage.step ? {} : armView(id));
    },
    (place, line) => {
      stage.readAt(place, line);
      slices?.show(place);
    },
  );
  const lateral = data.patientAxes && data.side ? views[data.side] : {};
  const steps = new FollowPlan(data.plans, (step: StepScene | undefined, plan) => {
    const was = stage.step;
    stage.step = step;
    stage.refresh();
    if (step?.at) {
      flyTo([step.at], armView(step.at));
      walk.open(step.at, false);
    } else if (step) flyTo([], lateral);
    else if (was && plan === 'none') flyTo([], {});
  });

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
  const cut = cutControls(stage);

  const ruler = new Ruler(
    nameOf,
    (points) => stage.ruler(points),
    (on) => {
      over.cross.hidden = !on;
      host.classList.toggle('ruling', on);
    },
  );
  const placeOf = (touched: Touched): Place | undefined => {
    const line = lines.get(touched.id);
    return line?.nearest(touched.point);
  };
  const read = (x: number, y: number): void => {
    const touched = under(x, y);
    if (!touched) {
      over.tell('');
      return;
    }
    const place = placeOf(touched);
    over.tell(place ? placeText(place) : restText(touched), x, y);
    stage.readAt(place, place && lines.get(touched.id));
    if (place) {
      walk.follow(place);
      slices?.show(place);
    }
  };
  const restText = (touched: Touched): string => {
    const one = data.structures.find(({ id }) => id === touched.id);
    if (one?.role === 'sac' && data.sac)
      return `sac: ${data.sac.volumeMl.toFixed(1)} mL, ${data.sac.longestMm.toFixed(0)} mm at its longest`;
    return `${one?.name}: ${one?.roleText}`;
  };
  handle(host, stage.arm, {
    hover: (x, y) => (ruler.on ? undefined : read(x, y)),
    leave: () => over.tell(''),
    click: (x, y) => (ruler.on ? ruler.mark(under(x, y)) : read(x, y)),
    key: (key) => {
      const arms = data.vessels.filter((vessel) => vessel.view);
      if (/^[1-9]$/.test(key) && arms[Number(key) - 1]) flyToZone(arms[Number(key) - 1].id);
      else if (key === 'Home') flyTo([], {});
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

/** The cut plane's two controls. */
function cutControls(stage: Stage): { next(): void; move(by: number): void; choose(way: CutWay): void } {
  const way = byId<HTMLSelectElement>('cut-way');
  const depth = byId<HTMLInputElement>('cut-at');
  const words: Record<CutWay, string> = data.patientAxes
    ? {
        off: 'no cut',
        sight: 'across the line of sight',
        z: 'axial, from the head',
        y: 'coronal, from the front',
        x: 'sagittal, from the left',
      }
    : {
        off: 'no cut',
        sight: 'across the line of sight',
        z: 'across file axis z',
        y: 'across file axis y',
        x: 'across file axis x',
      };
  for (const one of CUT_WAYS) {
    const option = made('option', '', words[one]);
    option.value = one;
    way.append(option);
  }
  const apply = (): void => {
    stage.cut = { way: way.value as CutWay, share: Number(depth.value) / 100 };
    depth.disabled = stage.cut.way === 'off';
    depth.setAttribute('aria-valuetext', `${depth.value} percent of the way`);
    stage.refresh();
  };
  const choose = (one: CutWay): void => {
    way.value = one;
    apply();
  };
  way.addEventListener('change', apply);
  depth.addEventListener('input', apply);
  return {
    choose,
    next: () => {
      choose(CUT_WAYS[(CUT_WAYS.indexOf(stage.cut.way) + 1) % CUT_WAYS.length]);
      say(`Cut: ${words[stage.cut.way]}`);
    },
    move: (by) => {
      depth.value = String(Number(depth.value) + by);
      apply();
    },
  };
}

/** Paper shows the picture as it stands, names and directions included, since a canvas is not always printed. */
function forPaper(stage: Stage, over: Overlay, host: HTMLElement): void {
  const paper = made('img', 'paper');
  paper.alt = 'The lesion in 3D as it was turned when the page was printed';
  host.after(paper);
  addEventListener('beforeprint', () => {
    if (host.clientWidth === 0) return;
    const scale = 2;
    const sheet = made('canvas', '');
    sheet.width = host.clientWidth * scale;
    sheet.height = host.clientHeight * scale;
    const ink = sheet.getContext('2d');
    if (!ink) return;
    ink.drawImage(stage.drawnNow(), 0, 0, sheet.width, sheet.height);
    ink.scale(scale, scale);
    over.paint(ink);
    paper.src = sheet.toDataURL('image/png');
  });
}

start();
