import {
  BufferGeometry,
  CatmullRomCurve3,
  Curve,
  CylinderGeometry,
  DoubleSide,
  Float32BufferAttribute,
  Group,
  LineBasicMaterial,
  LineSegments,
  Mesh,
  MeshBasicMaterial,
  MeshPhongMaterial,
  Quaternion,
  TorusGeometry,
  TubeGeometry,
  Vector3,
} from 'three';
import type { Ghost } from '../page-types.js';
import { type Line, type Place, sectionAt } from './reading.js';

const ZONE = '#f0e442';
const KEEP = '#00684c';
const DEVICE = '#1a1a1a';
/** Yellow bars around a landing zone. */
const STAVES = 10;
/** Gap between wall and bars: more than the error of the drawn surface. */
const CLEAR_MM = 0.15;

const vector = (p: readonly [number, number, number]): Vector3 => new Vector3(...p);

function radiusAt(line: Line, atMm: number): number {
  const section = sectionAt(line.vessel, atMm);
  return (section ? section[3] : (line.vessel.landing?.calibreMm ?? line.vessel.profile[0]?.[3] ?? 3)) / 2;
}

/** A thin ring around the vessel. */
function ring(place: Place, radiusMm: number, thickMm: number, colour: string): Mesh {
  const mesh = new Mesh(
    new TorusGeometry(radiusMm, thickMm, 10, 48),
    new MeshBasicMaterial({ color: colour }),
  );
  mesh.position.copy(vector(place.point));
  mesh.quaternion.copy(new Quaternion().setFromUnitVectors(new Vector3(0, 0, 1), vector(place.along)));
  return mesh;
}

/** The landing zone as lengthwise bars around the vessel, with a ring at either end. */
export function landingSleeve(line: Line): Group | undefined {
  const zone = line.vessel.landing;
  if (!zone || zone.toMm <= zone.fromMm) return undefined;
  const inside = line.vessel.profile.filter(([at]) => at >= zone.fromMm && at <= zone.toMm);
  const radius = Math.max(zone.calibreMm, ...inside.map((sample) => sample[3])) / 2 + CLEAR_MM;
  const curve = new CatmullRomCurve3(line.stretch(zone.fromMm, zone.toMm).map(vector));
  const steps = Math.max(8, Math.round(zone.toMm - zone.fromMm));
  const staves = new Mesh(
    barred(new TubeGeometry(curve, steps, radius, STAVES * 4), steps),
    new MeshPhongMaterial({ color: ZONE, specular: 0x111111, side: DoubleSide }),
  );
  const group = new Group();
  group.add(staves);
  for (const at of [zone.fromMm, zone.toMm])
    group.add(ring(line.place(at), radius, 0.03 * zone.calibreMm, DEVICE));
  return group;
}

/** Cuts away three quarters of a tube, lengthwise, so that the wall with its colour and pattern shows between the bars. */
function barred(tube: TubeGeometry, steps: number): BufferGeometry {
  const index = tube.getIndex();
  const around = STAVES * 4;
  const kept: number[] = [];
  for (let i = 0; index && i < steps * around; i++)
    if (i % 4 === 0) for (let k = 0; k < 6; k++) kept.push(index.getX(6 * i + k));
  tube.setIndex(kept);
  return tube;
}

/** Rings that guard a branch to be kept. */
export function guardRings(line: Line): Group {
  const group = new Group();
  for (const share of [0.15, 0.4, 0.65]) {
    const at = line.vessel.lengthMm * share;
    group.add(ring(line.place(at), radiusAt(line, at) * 1.3, 0.1 * radiusAt(line, at) + 0.1, KEEP));
  }
  return group;
}

/** A ring that shows where the calibre is read. */
export function readingRing(place: Place, line: Line): Mesh {
  return ring(place, radiusAt(line, place.atMm) * 1.06, 0.03 * radiusAt(line, place.atMm) + 0.04, '#000000');
}

class Helix extends Curve<Vector3> {
  private readonly radius: number;
  private readonly turns: number;
  private readonly length: number;

  constructor(radius: number, turns: number, length: number) {
    super();
    this.radius = radius;
    this.turns = turns;
    this.length = length;
  }

  override getPoint(t: number, target = new Vector3()): Vector3 {
    const angle = 2 * Math.PI * this.turns * t;
    return target.set(this.radius * Math.cos(angle), (t - 0.5) * this.length, this.radius * Math.sin(angle));
  }
}

/** The device at its unconstrained size, its near end at the sac-side end of the landing zone. */
export function deviceGhost(line: Line, ghost: Ghost): Group | undefined {
  const zone = line.vessel.landing;
  if (!zone) return undefined;
  const radius = ghost.diameterMm / 2;
  const group = new Group();
  // A coil: as many loops as its wire allows, side by side; the packed shape is not known.
  const loops = Math.max(
    1,
    Math.min(12, (ghost.lengthMm ?? 3 * Math.PI * ghost.diameterMm) / (2 * Math.PI * radius)),
  );
  const length = ghost.form === 'plug' ? (ghost.lengthMm ?? ghost.diameterMm) : loops * 0.9;
  if (ghost.form === 'plug') {
    group.add(
      new Mesh(
        new CylinderGeometry(radius, radius, length, 48, 1, false),
        new MeshPhongMaterial({ color: '#ffffff', transparent: true, opacity: 0.5, depthWrite: false }),
      ),
      braid(radius, length),
    );
  } else {
    group.add(
      new Mesh(
        new TubeGeometry(new Helix(radius, loops, length), Math.round(48 * loops), 0.28, 8),
        new MeshPhongMaterial({ color: DEVICE }),
      ),
    );
  }
  const middle = line.place(Math.max(zone.fromMm, zone.toMm - length / 2));
  group.position.copy(vector(middle.point));
  group.quaternion.copy(new Quaternion().setFromUnitVectors(new Vector3(0, 1, 0), vector(middle.along)));
  return group;
}

/** Crossed wires on a cylinder and its two rims. */
function braid(radius: number, length: number): LineSegments {
  const points: number[] = [];
  const at = (angle: number, share: number): number[] => [
    radius * Math.cos(angle),
    (share - 0.5) * length,
    radius * Math.sin(angle),
  ];
  const wires = 12;
  const steps = 10;
  for (let wire = 0; wire < wires; wire++)
    for (const way of [-1, 1])
      for (let i = 0; i < steps; i++)
        for (const share of [i / steps, (i + 1) / steps])
          points.push(...at((2 * Math.PI * wire) / wires + way * share * 1.6, share));
  for (const share of [0, 1])
    for (let i = 0; i < 48; i++)
      points.push(...at((Math.PI * i) / 24, share), ...at((Math.PI * (i + 1)) / 24, share));
  const geometry = new BufferGeometry();
  geometry.setAttribute('position', new Float32BufferAttribute(points, 3));
  return new LineSegments(geometry, new LineBasicMaterial({ color: DEVICE }));
}
