import { quoted } from '../../foundation/quoted-text.js';
import { checkIndices, MeshBuilder } from './mesh-builder.js';
import { checkTriangleCount, EXPORT_AGAIN, type MeshObject, refuse, stem } from './mesh-file.js';
import {
  PLY_TYPE_BYTES,
  type PlyElement,
  type PlyHeader,
  type PlyType,
  readPlyHeader,
} from './ply-header.js';
import { splitFace } from './polygon-face.js';
import { TextScanner } from './text-scanner.js';

const MOST_CORNERS = 10_000;

/** Gives the numbers of the body in sequence, in either encoding. */
interface Values {
  next(type: PlyType, where: () => string): number;
  /** Skips a record of fixed length at once, if possible. */
  skip(bytes: number): boolean;
}

/**
 * PLY, ASCII or binary of either byte order: element `vertex` with x, y, z of any type and element `face` with the
 * list `vertex_indices` or `vertex_index`. Other elements and properties are skipped. Faces with more corners are split. Counts beyond
 * the size of the file are rejected before memory is allocated.
 */
export function readPly(bytes: Uint8Array, file: string): { objects: MeshObject[]; notes: string[] } {
  const header = readPlyHeader(bytes, file);
  checkHeader(header, bytes.length, file);
  const values =
    header.encoding === 'ascii' ? asciiValues(bytes, header, file) : binaryValues(bytes, header, file);
  const build = new MeshBuilder(file);
  const faces: { corners: number[]; at: number }[] = [];
  let ngons = 0;
  for (const element of header.elements) {
    if (element.name === 'vertex') readVertices(element, values, build);
    else if (element.name === 'face') {
      for (let i = 0; i < element.count; i++) {
        const corners = readFace(element, i, values, file);
        if (corners.length === 3) build.triangle(corners[0], corners[1], corners[2]);
        else {
          ngons++;
          // Splitting needs the vertices, which may follow.
          faces.push({ corners, at: i });
        }
      }
    } else skipElement(element, values, file);
  }
  const count = build.vertexCount;
  for (const { corners, at } of faces) {
    const bad = corners.find((v) => v >= count);
    if (bad !== undefined) outOfRange(file, at, bad, count);
    const split = splitFace(corners, (v, axis) => build.positions.at(3 * v + axis));
    for (let i = 0; i < split.length; i += 3) build.triangle(split[i], split[i + 1], split[i + 2]);
  }
  const mesh = build.mesh();
  checkIndices(file, mesh);
  const notes = ngons > 0 ? [`${ngons} faces with more than three corners were split into triangles.`] : [];
  return { objects: [{ name: stem(file), mesh }], notes };
}

function checkHeader(header: PlyHeader, size: number, file: string): void {
  const vertex = header.elements.find((e) => e.name === 'vertex');
  const face = header.elements.find((e) => e.name === 'face');
  if (!vertex) refuse(file, 'header', 'it has no element "vertex"', EXPORT_AGAIN);
  for (const axis of ['x', 'y', 'z']) {
    if (!vertex.properties.some((p) => p.name === axis && !p.countType)) {
      refuse(file, 'header', `the vertices have no property "${axis}"`, EXPORT_AGAIN);
    }
  }
  if (!face || face.count === 0) {
    const strips = header.elements.some((e) => e.name === 'tristrips');
    refuse(
      file,
      'header',
      strips ? 'its faces are triangle strips' : 'it contains no triangles',
      strips ? 'Export the surface as a list of triangles' : EXPORT_AGAIN,
    );
  }
  if (!face.properties.some(isCornerList)) {
    refuse(file, 'header', 'the faces have no list "vertex_indices"', EXPORT_AGAIN);
  }
  checkTriangleCount(file, face.count);
  let least = header.bodyOffset;
  for (const element of header.elements) {
    if (element.count > 0 && element.properties.length === 0) {
      refuse(file, 'header', `the element ${quoted(element.name)} has no properties`, EXPORT_AGAIN);
    }
    let record = 0;
    for (const p of element.properties) {
      // an ASCII number and the following space take two bytes; the last may lack the space
      record += header.encoding === 'ascii' ? 2 : PLY_TYPE_BYTES[p.countType ?? p.type];
    }
    least += record * element.count;
  }
  if (header.encoding === 'ascii') least -= 1;
  if (least > size) {
    const claims = header.elements.map((e) => `${e.count} ${e.name}`).join(', ');
    refuse(
      file,
      'header',
      `it claims ${quoted(claims)}, which needs at least ${least} bytes, and the file has ${size}`,
      'The file is cut off: copy it again or export it again',
    );
  }
}

const isCornerList = (p: { name: string; countType?: PlyType }): boolean =>
  (p.name === 'vertex_indices' || p.name === 'vertex_index') && p.countType !== undefined;

function readVertices(element: PlyElement, values: Values, build: MeshBuilder): void {
  const point = [0, 0, 0];
  const axes = element.properties.map((p) => (p.countType ? -1 : ['x', 'y', 'z'].indexOf(p.name)));
  for (let i = 0; i < element.count; i++) {
    const where = (): string => `vertex ${i + 1}`;
    for (let k = 0; k < axes.length; k++) {
      const p = element.properties[k];
      const lengthOfList = p.countType ? values.next(p.countType, where) : 1;
      for (let n = 0; n < lengthOfList; n++) {
        const value = values.next(p.type, where);
        if (axes[k] >= 0) point[axes[k]] = value;
      }
    }
    build.vertex(point[0], point[1], point[2], where);
  }
}

function readFace(element: PlyElement, i: number, values: Values, file: string): number[] {
  const where = (): string => `face ${i + 1}`;
  const corners: number[] = [];
  for (const p of element.properties) {
    const lengthOfList = p.countType ? values.next(p.countType, where) : 1;
    const wanted = isCornerList(p);
    if (wanted && (lengthOfList < 3 || lengthOfList > MOST_CORNERS || !Number.isInteger(lengthOfList))) {
      refuse(file, where(), `it has ${lengthOfList} corners`, EXPORT_AGAIN);
    }
    for (let n = 0; n < lengthOfList; n++) {
      const value = values.next(p.type, where);
      if (!wanted) continue;
      if (!Number.isInteger(value) || value < 0 || value > 0xfffffffe) {
        refuse(file, where(), `it names vertex ${value}`, EXPORT_AGAIN);
      }
      corners.push(value);
    }
  }
  return corners;
}

function skipElement(element: PlyElement, values: Values, file: string): void {
  if (element.properties.every((p) => !p.countType)) {
    const record = element.properties.reduce((sum, p) => sum + PLY_TYPE_BYTES[p.type], 0);
    if (values.skip(record * element.count)) return;
  }
  for (let i = 0; i < element.count; i++) {
    const where = (): string => `${plainElement(element.name)} ${i + 1}`;
    for (const p of element.properties) {
      const lengthOfList = p.countType ? values.next(p.countType, where) : 1;
      if (lengthOfList < 0) refuse(file, where(), `a list of ${lengthOfList} values`, EXPORT_AGAIN);
      for (let n = 0; n < lengthOfList; n++) values.next(p.type, where);
    }
  }
}

const plainElement = (name: string): string => `element ${quoted(name)}`;

function outOfRange(file: string, face: number, vertex: number, count: number): never {
  return refuse(
    file,
    `face ${face + 1}`,
    `it names vertex ${vertex} (counted from 0) of ${count} vertices`,
    EXPORT_AGAIN,
  );
}

function cutOff(file: string, where: string): never {
  return refuse(file, where, 'the file ends here', 'It is cut off: copy it again or export it again');
}

function asciiValues(bytes: Uint8Array, header: PlyHeader, file: string): Values {
  const scan = new TextScanner(bytes, header.bodyOffset);
  return {
    next(_type, where) {
      if (!scan.next()) cutOff(file, where());
      const value = scan.number();
      if (Number.isNaN(value)) {
        const line = header.bodyLine + scan.line - 1;
        refuse(file, `line ${line}: ${where()}`, `${quoted(scan.word())} is not a number`, EXPORT_AGAIN);
      }
      return value;
    },
    skip: () => false,
  };
}

function binaryValues(bytes: Uint8Array, header: PlyHeader, file: string): Values {
  const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength);
  const little = header.encoding === 'little';
  let p = header.bodyOffset;
  return {
    next(type, where) {
      const at = p;
      p += PLY_TYPE_BYTES[type];
      if (p > view.byteLength) cutOff(file, where());
      switch (type) {
        case 'int8':
          return view.getInt8(at);
        case 'uint8':
          return view.getUint8(at);
        case 'int16':
          return view.getInt16(at, little);
        case 'uint16':
          return view.getUint16(at, little);
        case 'int32':
          return view.getInt32(at, little);
        case 'uint32':
          return view.getUint32(at, little);
        case 'float32':
          return view.getFloat32(at, little);
        case 'float64':
          return view.getFloat64(at, little);
      }
    },
    skip(length) {
      p += length;
      return true;
    },
  };
}
