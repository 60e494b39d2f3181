import { OrthographicCamera, Vector3 } from 'three';
import type { Triple } from '../page-types.js';
import { power } from '../../foundation/power.js';

/** The view: C-arm angles in degrees (LAO and cranial positive), centre and height in mm. */
export interface Looking {
  laoDeg: number;
  cranialDeg: number;
  centre: Triple;
  heightMm: number;
}

const RAD = Math.PI / 180;
const FAR_MM = 2000;

/** Adds whole turns so that the rotation from one angle to the other is the shorter one. */
const near = (angle: number, to: number): number => to + ((((angle - to) % 360) + 540) % 360) - 180;

/** Unit vectors of the picture in the axes of the lesion. */
export interface PictureAxes {
  right: Vector3;
  up: Vector3;
  towards: Vector3;
}

/** The picture's axes for a C-arm position. */
export function axesOf({ laoDeg, cranialDeg }: Pick<Looking, 'laoDeg' | 'cranialDeg'>): PictureAxes {
  const [a, b] = [laoDeg * RAD, cranialDeg * RAD];
  const [sa, ca, sb, cb] = [Math.sin(a), Math.cos(a), Math.sin(b), Math.cos(b)];
  return {
    right: new Vector3(ca, sa, 0),
    up: new Vector3(-sa * sb, ca * sb, cb),
    towards: new Vector3(sa * cb, -ca * cb, sb),
  };
}

/**
 * A camera that moves like a C-arm: parallel projection, the direction to the viewer is
 * (sin a cos b, -cos a cos b, sin b) in LPS for LAO a and cranial b, the head is up.
 * Source: DICOM PS3.3, X-Ray positioner primary and secondary angle (from memory).
 */
export class ArmCamera {
  readonly camera = new OrthographicCamera(-1, 1, 1, -1, 0, 2 * FAR_MM);
  readonly looking: Looking;
  private width = 1;
  private height = 1;
  private flight = 0;
  private readonly changed: () => void;

  constructor(looking: Looking, changed: () => void) {
    this.looking = { ...looking };
    this.changed = changed;
  }

  get mmPerPx(): number {
    return this.looking.heightMm / this.height;
  }

  /** Width over height of the picture. */
  get aspect(): number {
    return this.width / this.height;
  }

  axes(): PictureAxes {
    return axesOf(this.looking);
  }

  resize(width: number, height: number): void {
    this.width = Math.max(1, width);
    this.height = Math.max(1, height);
    this.apply();
  }

  turn(laoDeg: number, cranialDeg: number): void {
    this.land();
    this.looking.laoDeg = near(this.looking.laoDeg + laoDeg, 0);
    this.looking.cranialDeg = Math.max(-90, Math.min(90, this.looking.cranialDeg + cranialDeg));
    this.apply();
  }

  /** Pans by pixels of the picture. */
  move(rightPx: number, downPx: number): void {
    this.land();
    const { right, up } = this.axes();
    const shift = right.multiplyScalar(-rightPx * this.mmPerPx).add(up.multiplyScalar(downPx * this.mmPerPx));
    const { centre } = this.looking;
    this.looking.centre = [centre[0] + shift.x, centre[1] + shift.y, centre[2] + shift.z];
    this.apply();
  }

  /** Zooms; the point at an offset from the middle, in pixels, stays in place. */
  zoom(factor: number, rightPx = 0, downPx = 0): void {
    this.land();
    const before = this.looking.heightMm;
    const after = Math.max(2, Math.min(1500, before / factor));
    const keep = before / after - 1;
    this.looking.heightMm = after;
    this.move(-rightPx * keep, -downPx * keep);
  }

  /** Moves smoothly to another view; jumps if the reader prefers reduced motion. */
  fly(to: Partial<Looking>): void {
    this.land();
    const from = { ...this.looking };
    const goal = { ...from, ...to };
    goal.laoDeg = near(goal.laoDeg, from.laoDeg);
    const still = matchMedia('(prefers-reduced-motion: reduce)').matches;
    const begin = performance.now();
    const step = (now: number): void => {
      const raw = still ? 1 : Math.min(1, Math.max(0, (now - begin) / 450));
      const t = raw * raw * (3 - 2 * raw);
      const mix = (a: number, b: number): number => a + (b - a) * t;
      this.looking.laoDeg = mix(from.laoDeg, goal.laoDeg);
      this.looking.cranialDeg = mix(from.cranialDeg, goal.cranialDeg);
      this.looking.heightMm = from.heightMm * power(goal.heightMm / from.heightMm, t);
      this.looking.centre = [0, 1, 2].map((k) => mix(from.centre[k], goal.centre[k])) as Triple;
      if (raw === 1) this.looking.laoDeg = near(this.looking.laoDeg, 0);
      this.apply();
      this.flight = raw < 1 ? requestAnimationFrame(step) : 0;
    };
    step(begin);
  }

  /** Stops a movement at its current view. */
  private land(): void {
    if (this.flight) cancelAnimationFrame(this.flight);
    this.flight = 0;
  }

  private apply(): void {
    const { right: _, up, towards } = this.axes();
    const { camera, looking } = this;
    const centre = new Vector3(...looking.centre);
    camera.position.copy(centre).addScaledVector(towards, FAR_MM);
    camera.up.copy(up);
    camera.lookAt(centre);
    const half = looking.heightMm / 2;
    const wide = (half * this.width) / this.height;
    camera.left = -wide;
    camera.right = wide;
    camera.top = half;
    camera.bottom = -half;
    camera.updateProjectionMatrix();
    camera.updateMatrixWorld();
    this.changed();
  }
}
