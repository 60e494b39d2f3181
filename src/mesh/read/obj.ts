import { quoted } from '../../foundation/quoted-text.js';
import { compacted, GrowingNumbers, MeshBuilder } from './mesh-builder.js';
import { EXPORT_AGAIN, type MeshObject, MOST_OBJECTS, plainName, refuse, stem } from './mesh-file.js';
import { splitFace } from './polygon-face.js';
import { TextScanner } from './text-scanner.js';

/** Statements of the format that do not affect the surface: texture, normals, material, shading, points, lines. */
const SKIPPED = [
  'vt',
  'vn',
  'vp',
  'usemtl',
  'mtllib',
  's',
  'l',
  'p',
  'lod',
  'mg',
  'bevel',
  'c_interp',
  'd_interp',
];
const CURVED = [
  'cstype',
  'deg',
  'curv',
  'curv2',
  'surf',
  'parm',
  'trim',
  'hole',
  'end',
  'bmat',
  'step',
  'con',
];
const MOST_CORNERS = 10_000;

/**
 * OBJ: vertices and polygonal faces, negative indices, lines joined by a backslash. Objects are taken from `o` or, if the file has at
 * most one `o`, from `g`. Free-form curves are rejected.
 */
export function readObj(bytes: Uint8Array, file: string): { objects: MeshObject[]; notes: string[] } {
  const scan = new TextScanner(bytes);
  const build = new MeshBuilder(file);
  const objectNames = new Names(file);
  const groupNames = new Names(file);
  const objectOf = new GrowingNumbers((n) => new Uint32Array(n));
  const groupOf = new GrowingNumbers((n) => new Uint32Array(n));
  let ngons = 0;
  const at = (): string => `line ${scan.line}`;
  while (scan.next()) {
    if (scan.is('v')) readVertex(scan, build, file);
    else if (scan.is('f')) {
      const corners = readCorners(scan, build.vertexCount, file);
      if (corners.length > 3) ngons++;
      const faces = splitFace(corners, (v, axis) => build.positions.at(3 * v + axis));
      for (let i = 0; i < faces.length; i += 3) {
        build.triangle(faces[i], faces[i + 1], faces[i + 2]);
        objectOf.push(objectNames.current);
        groupOf.push(groupNames.current);
      }
    } else if (scan.is('o')) objectNames.enter(scan.restOfLine(), at);
    else if (scan.is('g')) groupNames.enter(scan.restOfLine(), at);
    else if (CURVED.some((word) => scan.is(word))) {
      refuse(
        file,
        at(),
        `${quoted(scan.word())} is a free-form curve or surface`,
        'Export the surface as triangles',
      );
    } else if (!SKIPPED.some((word) => scan.is(word)) && !scan.word().startsWith('#')) {
      refuse(file, at(), `${quoted(scan.word())} is not a statement of an OBJ file`, EXPORT_AGAIN);
    }
    while (scan.nextOnLine());
  }
  const mesh = build.mesh();
  const byObject = objectNames.usedIn(objectOf) > 1 || groupNames.usedIn(groupOf) <= 1;
  const names = byObject ? objectNames : groupNames;
  const belongs = byObject ? objectOf : groupOf;
  const notes = ngons > 0 ? [`${ngons} faces with more than three corners were split into triangles.`] : [];
  return { objects: splitByName(mesh.positions, mesh.triangles, belongs, names, stem(file)), notes };
}

function readVertex(scan: TextScanner, build: MeshBuilder, file: string): void {
  const where = (): string => `line ${scan.line}: vertex ${build.vertexCount + 1}`;
  const values: number[] = [];
  for (let k = 0; k < 3; k++) {
    if (!scan.nextOnLine()) refuse(file, where(), 'it has fewer than three coordinates', EXPORT_AGAIN);
    const value = scan.number();
    if (Number.isNaN(value)) refuse(file, where(), `${quoted(scan.word())} is not a number`, EXPORT_AGAIN);
    values.push(value);
  }
  build.vertex(values[0], values[1], values[2], where);
}

function readCorners(scan: TextScanner, vertexCount: number, file: string): number[] {
  const corners: number[] = [];
  const at = (): string => `line ${scan.line}`;
  while (scan.nextOnLine()) {
    const word = scan.word();
    if (word.startsWith('#')) break;
    const match = /^([+-]?\d{1,10})(\/[+-]?\d*){0,2}$/.exec(word);
    if (!match) refuse(file, at(), `${quoted(word)} is not a corner of a face`, EXPORT_AGAIN);
    const stated = Number(match[1]);
    const v = stated < 0 ? vertexCount + stated : stated - 1;
    if (stated === 0 || v < 0 || v >= vertexCount) {
      refuse(file, at(), `the face names vertex ${stated} of ${vertexCount} vertices so far`, EXPORT_AGAIN);
    }
    if (corners.length >= MOST_CORNERS) {
      refuse(file, at(), `a face with more than ${MOST_CORNERS} corners`, 'Export the surface as triangles');
    }
    corners.push(v);
  }
  if (corners.length < 3) refuse(file, at(), 'a face with fewer than three corners', EXPORT_AGAIN);
  return corners;
}

/** Names in order of appearance; number 0 is for data before the first name. */
class Names {
  current = 0;
  readonly list = [''];
  private readonly numbers = new Map<string, number>([['', 0]]);
  private readonly file: string;

  constructor(file: string) {
    this.file = file;
  }

  enter(text: string, where: () => string): void {
    const name = plainName(text);
    let n = this.numbers.get(name);
    if (n === undefined) {
      if (this.list.length > MOST_OBJECTS) {
        refuse(this.file, where(), `more than ${MOST_OBJECTS} names`, 'Split the file');
      }
      n = this.list.push(name) - 1;
      this.numbers.set(name, n);
    }
    this.current = n;
  }

  usedIn(numbers: GrowingNumbers<Uint32Array>): number {
    return new Set(numbers.values()).size;
  }
}

function splitByName(
  positions: Float64Array,
  triangles: Uint32Array,
  belongs: GrowingNumbers<Uint32Array>,
  names: Names,
  fallback: string,
): MeshObject[] {
  const sizes = new Uint32Array(names.list.length);
  for (let t = 0; t < belongs.length; t++) sizes[belongs.at(t)]++;
  const parts = Array.from(sizes, (n) => new Uint32Array(3 * n));
  const filled = new Uint32Array(sizes.length);
  for (let t = 0; t < belongs.length; t++) {
    const n = belongs.at(t);
    parts[n].set(triangles.subarray(3 * t, 3 * t + 3), filled[n]);
    filled[n] += 3;
  }
  const objects: MeshObject[] = [];
  for (const [n, part] of parts.entries()) {
    if (part.length === 0) continue;
    objects.push({ name: names.list[n] || fallback, mesh: compacted(positions, part) });
  }
  return objects;
}
