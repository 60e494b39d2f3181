import {
  AmbientLight,
  Box3,
  BufferGeometry,
  DirectionalLight,
  Float32BufferAttribute,
  Group,
  LineBasicMaterial,
  Mesh,
  MeshBasicMaterial,
  type Object3D,
  Plane,
  Raycaster,
  Scene,
  SphereGeometry,
  Line as ThreeLine,
  Vector2,
  Vector3,
  WebGLRenderer,
} from 'three';
import type { PageData, StepScene, Triple } from '../page-types.js';
import { ArmCamera, axesOf, type Looking } from './arm-camera.js';
import { deviceGhost, guardRings, landingSleeve, readingRing } from './marks.js';
import type { Line, Place } from './reading.js';
import { Wall } from './surfaces.js';

/** Where a click or pointer hit the surface. */
export interface Touched {
  id: string;
  point: Triple;
}

/** Which marks are shown. */
export interface Shown {
  zones: boolean;
  devices: boolean;
  names: boolean;
}

export type CutWay = 'off' | 'sight' | 'x' | 'y' | 'z';
export const CUT_WAYS: readonly CutWay[] = ['off', 'sight', 'z', 'y', 'x'];

/** The 3D picture: walls, marks, light, cut and picking. Drawn only when something has changed. */
export class Stage {
  readonly arm: ArmCamera;
  readonly walls: Wall[];
  readonly bounds: { centre: Triple; radiusMm: number };
  readonly shown: Shown = { zones: true, devices: false, names: true };
  cut: { way: CutWay; share: number } = { way: 'off', share: 0.5 };
  step: StepScene | undefined;
  private readonly renderer: WebGLRenderer;
  private readonly scene = new Scene();
  private readonly light = new DirectionalLight('#ffffff', 2.1);
  private readonly marks = new Group();
  private readonly zones = new Map<string, Object3D>();
  private readonly ghosts = new Map<string, Object3D>();
  private readonly guards = new Map<string, Object3D>();
  private readonly extra = new Group();
  private reading: Object3D | undefined;
  private readonly caster = new Raycaster();
  private readonly plane = new Plane();
  private queued = 0;
  private readonly after: () => void;

  constructor(
    host: HTMLElement,
    canvas: HTMLCanvasElement,
    data: PageData,
    lines: ReadonlyMap<string, Line>,
    after: () => void,
  ) {
    this.after = after;
    this.renderer = new WebGLRenderer({ canvas, antialias: true, alpha: true, preserveDrawingBuffer: false });
    this.renderer.setPixelRatio(Math.min(2, devicePixelRatio));
    this.walls = data.structures.map((one) => new Wall(one, lines.get(one.id)));
    for (const wall of this.walls) this.scene.add(wall.mesh);
    this.scene.add(new AmbientLight('#ffffff', 1.15), this.light, this.marks, this.extra);
    for (const [id, line] of lines) {
      const keepMark = (map: Map<string, Object3D>, mark: Object3D | undefined): void => {
        if (!mark) return;
        map.set(id, mark);
        this.marks.add(mark);
      };
      keepMark(this.zones, landingSleeve(line));
      if (line.vessel.device) keepMark(this.ghosts, deviceGhost(line, line.vessel.device));
      if (line.vessel.spare) keepMark(this.guards, guardRings(line));
    }
    this.bounds = boundsOf(this.walls.filter((wall) => wall.shown.solid === 1));
    if (this.bounds.radiusMm === 0) this.bounds = boundsOf(this.walls);
    this.arm = new ArmCamera(
      { laoDeg: 0, cranialDeg: 0, centre: this.bounds.centre, heightMm: this.bounds.radiusMm * 2.1 || 100 },
      () => this.redraw(),
    );
    const toSize = (): void => {
      const { clientWidth, clientHeight } = host;
      this.renderer.setSize(clientWidth, clientHeight, false);
      this.arm.resize(clientWidth, clientHeight);
    };
    new ResizeObserver(toSize).observe(host);
    toSize();
    Object.assign(this.arm.looking, this.frameOf([]));
    toSize();
    this.refresh();
  }

  /** Updates walls and marks to the current settings, then draws. */
  refresh(): void {
    const { step, shown } = this;
    for (const wall of this.walls) {
      const { id } = wall.shown;
      const subject = !step || step.focus.length === 0 || step.focus.includes(id) || step.guard.includes(id);
      const holdsDevice = this.ghosts.has(id) && (shown.devices || (step?.placed.includes(id) ?? false));
      wall.show({ dim: !subject, closed: step?.closed.includes(id) ?? false, thin: holdsDevice });
      wall.cut(this.cut.way !== 'off');
    }
    for (const [id, zone] of this.zones) zone.visible = this.zoneShown(id);
    for (const [id, ghost] of this.ghosts)
      ghost.visible = shown.devices || (step?.placed.includes(id) ?? false);
    for (const [id, guard] of this.guards) guard.visible = !step || step.guard.includes(id);
    this.redraw();
  }

  /** Landing zones are shown at the steps for their vessel. */
  zoneShown(id: string): boolean {
    const { step } = this;
    return this.shown.zones && (!step || (step.at ? step.at === id : step.focus.includes(id)));
  }

  /** Requests a drawing with the next frame. */
  redraw(): void {
    if (!this.queued) this.queued = requestAnimationFrame(() => this.draw());
  }

  /** Draws now. */
  draw(): void {
    if (this.queued) cancelAnimationFrame(this.queued);
    this.queued = 0;
    const { right, up, towards } = this.arm.axes();
    this.light.position.copy(towards).addScaledVector(up, 0.45).addScaledVector(right, -0.35);
    this.renderer.clippingPlanes = this.cut.way === 'off' ? [] : [this.cutPlane()];
    this.renderer.render(this.scene, this.arm.camera);
    this.after();
  }

  /** The canvas, drawn now so that it can be copied. */
  drawnNow(): HTMLCanvasElement {
    this.draw();
    return this.renderer.domElement;
  }

  /** Keeps the part behind the plane, as seen by the reader or from the front, the left or the head. */
  private cutPlane(): Plane {
    const normal =
      this.cut.way === 'sight'
        ? this.arm.axes().towards
        : new Vector3(
            Number(this.cut.way === 'x'),
            this.cut.way === 'y' ? -1 : 0,
            Number(this.cut.way === 'z'),
          );
    const offset = (1 - 2 * this.cut.share) * this.bounds.radiusMm;
    const point = new Vector3(...this.bounds.centre).addScaledVector(normal, offset);
    return this.plane.setFromNormalAndCoplanarPoint(normal.negate(), point);
  }

  /** Whether the cut removes this point. */
  isCutOff(point: Triple): boolean {
    return this.cut.way !== 'off' && this.cutPlane().distanceToPoint(new Vector3(...point)) < 0;
  }

  /** What is under a point of the picture, pixels from its upper left corner. Faded and cut parts are ignored. */
  under(x: number, y: number, width: number, height: number): Touched | undefined {
    this.caster.setFromCamera(new Vector2((2 * x) / width - 1, 1 - (2 * y) / height), this.arm.camera);
    const meshes = this.walls.filter((wall) => wall.opacity > 0.3).map((wall) => wall.mesh);
    const cut = this.cut.way === 'off' ? undefined : this.cutPlane();
    for (const hit of this.caster.intersectObjects(meshes, false)) {
      if (cut && cut.distanceToPoint(hit.point) < 0) continue;
      return { id: String(hit.object.userData.id), point: [hit.point.x, hit.point.y, hit.point.z] };
    }
    return undefined;
  }

  /** Pixels from the upper left corner. */
  onScreen(point: Triple, width: number, height: number): [number, number] {
    const at = new Vector3(...point).project(this.arm.camera);
    return [((at.x + 1) / 2) * width, ((1 - at.y) / 2) * height];
  }

  /** Shows the ring where a calibre is read, or removes it. */
  readAt(place: Place | undefined, line: Line | undefined): void {
    if (this.reading) this.scene.remove(this.reading);
    this.reading = place && line ? readingRing(place, line) : undefined;
    if (this.reading) this.scene.add(this.reading);
    this.redraw();
  }

  /** Points and line of the ruler, drawn over everything. */
  ruler(points: readonly Triple[]): void {
    this.extra.clear();
    const radius = Math.max(0.25, this.bounds.radiusMm / 110);
    for (const point of points) {
      const ball = new Mesh(
        new SphereGeometry(radius, 16, 12),
        new MeshBasicMaterial({ color: '#000000', depthTest: false, transparent: true }),
      );
      ball.position.set(...point);
      ball.renderOrder = 10;
      this.extra.add(ball);
    }
    if (points.length === 2) {
      const geometry = new BufferGeometry();
      geometry.setAttribute('position', new Float32BufferAttribute(points.flat(), 3));
      const line = new ThreeLine(
        geometry,
        new LineBasicMaterial({ color: '#000000', depthTest: false, transparent: true }),
      );
      line.renderOrder = 10;
      this.extra.add(line);
    }
    this.redraw();
  }

  /** Centre and height that show the named structures from a direction; the whole lesion if none is named. */
  frameOf(ids: readonly string[], look: Partial<Looking> = {}): { centre: Triple; heightMm: number } {
    const own = this.walls.filter((wall) => ids.includes(wall.shown.id));
    const walls = own.length > 0 ? own : this.walls.filter((wall) => wall.shown.solid === 1);
    const { right, up, towards } = axesOf({ ...this.arm.looking, ...look });
    const axes = [right, up, towards];
    const low = [Infinity, Infinity, Infinity];
    const high = [-Infinity, -Infinity, -Infinity];
    for (const wall of walls.length > 0 ? walls : this.walls) {
      const p = wall.mesh.geometry.getAttribute('position').array;
      for (let i = 0; i < p.length; i += 3)
        for (let k = 0; k < 3; k++) {
          const at = axes[k].x * p[i] + axes[k].y * p[i + 1] + axes[k].z * p[i + 2];
          if (at < low[k]) low[k] = at;
          if (at > high[k]) high[k] = at;
        }
    }
    if (low[0] > high[0]) return { centre: this.bounds.centre, heightMm: 100 };
    const centre = new Vector3();
    for (const [k, axis] of axes.entries()) centre.addScaledVector(axis, (low[k] + high[k]) / 2);
    const wide = (high[0] - low[0]) / this.arm.aspect;
    return {
      centre: [centre.x, centre.y, centre.z],
      heightMm: Math.max(12, Math.max(high[1] - low[1], wide) * ROOM),
    };
  }
}

/** Margin around the lesion for names, as a multiple of its extent in the picture. */
const ROOM = 1.35;

function boundsOf(walls: readonly Wall[]): { centre: Triple; radiusMm: number } {
  const box = new Box3();
  for (const wall of walls) box.union(wall.mesh.geometry.boundingBox!);
  if (box.isEmpty()) return { centre: [0, 0, 0], radiusMm: 0 };
  const centre = box.getCenter(new Vector3());
  return { centre: [centre.x, centre.y, centre.z], radiusMm: box.getSize(new Vector3()).length() / 2 };
}
