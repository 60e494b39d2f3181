import { strToU8, Zip, ZipPassThrough } from 'fflate';
import { deflated } from '../foundation/deflate.js';
import { joinedBytes } from '../foundation/joined-bytes.js';
import { ByteText } from './byte-text.js';
import type { TriangleMesh } from './mesh.js';
import { meshKernel } from './mesh-kernel.js';
import { passesOver } from './mesh-passes.js';
import { VertexWelder } from './vertex-welder.js';

/** One named body of the package, mm. */
export interface PrintObject {
  name: string;
  mesh: TriangleMesh;
  /** `#RRGGBB`, for programs that show colours. */
  colour?: string;
  /** Its transform in the build; `apart`: it is stored outside the build and never printed. */
  place?: BuildPlace | 'apart';
}

/** New coordinates: components along the three axes, plus `moveMm`. */
export interface BuildPlace {
  axes: readonly (readonly [number, number, number])[];
  moveMm: readonly [number, number, number];
}

export interface ThreeMfMetadata {
  title?: string;
  description?: string;
  /** A picture of the whole as the bytes of a PNG. */
  thumbnailPng?: Uint8Array;
}

/** Earliest ZIP time stamp, in local fields: so that the bytes do not depend on time and place of writing. */
const FIXED_TIME = new Date(1980, 0, 1, 0, 0, 0);
const CORE = 'http://schemas.microsoft.com/3dmanufacturing/core/2015/02';
const DECLARATION = '<?xml version="1.0" encoding="UTF-8"?>\n';
const THUMBNAIL = 'Metadata/thumbnail.png';
/** Decimals: ten nanometres, finer than any scan or printer; more if two vertices would coincide. */
const DIGITS = [5, 7, 9];

/**
 * 3MF package (core specification 1.3, from memory): content types, root relationships and one model with unit millimeter, one object per
 * body, in the build if printed (others are of type `other`), with a material of its name and colour; the picture as the package's
 * thumbnail
 * (Open Packaging Conventions, ECMA-376 part 2, from memory). Vertices keep their numbers, so a watertight mesh stays watertight.
 * Triangles with a repeated vertex are left out, as the standard forbids them. Same input, same bytes.
 */
export function write3mf(objects: readonly PrintObject[], metadata: ThreeMfMetadata = {}): Uint8Array {
  const coloured = objects.filter((o) => o.colour);
  for (const { colour } of coloured) {
    if (!/^#[0-9A-Fa-f]{6}$/.test(colour!))
      throw new RangeError(`${colour} is not a colour of the form #RRGGBB`);
  }
  const xml = new ByteText();
  xml.text(DECLARATION).text(`<model unit="millimeter" xml:lang="en-US" xmlns="${CORE}">\n`);
  if (metadata.title) xml.text(`<metadata name="Title">${xmlText(metadata.title)}</metadata>\n`);
  xml.text('<metadata name="Application">pavm-planner</metadata>\n');
  if (metadata.description)
    xml.text(`<metadata name="Description">${xmlText(metadata.description)}</metadata>\n`);
  xml.text('<resources>\n');
  if (coloured.length > 0) {
    xml.text('<basematerials id="1">\n');
    for (const { name, colour } of coloured)
      xml.text(`<base name="${xmlText(name)}" displaycolor="${colour!.toUpperCase()}"/>\n`);
    xml.text('</basematerials>\n');
  }
  for (const [i, object] of objects.entries()) {
    const material = object.colour ? ` pid="1" pindex="${coloured.indexOf(object)}"` : '';
    xml.text(
      `<object id="${i + 2}" type="${object.place === 'apart' ? 'other' : 'model'}" name="${xmlText(object.name)}"${material}>\n<mesh>\n`,
    );
    writeMesh(object.mesh, xml);
    xml.text('</mesh>\n</object>\n');
  }
  xml.text('</resources>\n<build>\n');
  for (const [i, { place }] of objects.entries()) {
    if (place === 'apart') continue;
    xml.text(`<item objectid="${i + 2}"${place ? ` transform="${transformOf(place)}"` : ''}/>\n`);
  }
  xml.text('</build>\n</model>\n');
  const { thumbnailPng } = metadata;
  return packaged([
    new Compressed('[Content_Types].xml', strToU8(contentTypes(thumbnailPng !== undefined))),
    new Compressed('_rels/.rels', strToU8(relationships(thumbnailPng !== undefined))),
    new Compressed('3D/3dmodel.model', xml.written()),
    ...(thumbnailPng ? [new Stored(THUMBNAIL, thumbnailPng)] : []),
  ]);
}

/** A file of the package as it is. */
class Stored extends ZipPassThrough {
  readonly bytes: Uint8Array;

  constructor(name: string, bytes: Uint8Array) {
    super(name);
    this.bytes = bytes;
    this.mtime = FIXED_TIME;
  }
}

/** ZIP's number for deflate. */
const DEFLATE = 8;
/** Compression level: 4 takes nearly twice as long for 13 % less. */
const LEVEL = 2;

/** Bytes of the gzip frame before and after the compressed data (RFC 1952); the check sum is the first field after it. */
const GZIP_BEFORE = 10;
const GZIP_AFTER = 8;

class Compressed extends Stored {
  override compression = DEFLATE;

  /** The check sum is taken from a gzip frame, because computing it with the library takes as long as compressing. */
  override push(bytes: Uint8Array, isLast = false): void {
    const framed = deflated(bytes, LEVEL, 'gzip');
    const after = framed.length - GZIP_AFTER;
    this.size = bytes.length;
    this.crc = new DataView(framed.buffer).getUint32(after, true);
    this.ondata(null, framed.subarray(GZIP_BEFORE, after), isLast);
  }
}

/**
 * A ZIP archive. The sizes follow each file and are repeated in the directory at the end (Open Packaging Conventions, annex B, from
 * memory).
 */
function packaged(files: readonly Stored[]): Uint8Array {
  const parts: Uint8Array[] = [];
  const zip = new Zip((error, part) => {
    if (error) throw error;
    parts.push(part);
  });
  for (const file of files) {
    zip.add(file);
    file.push(file.bytes as Uint8Array<ArrayBuffer>, true);
  }
  zip.end();
  return joinedBytes(parts);
}

/** Rows of the matrix for row vectors. */
function transformOf({ axes, moveMm }: BuildPlace): string {
  const turn = [0, 1, 2].flatMap((k) => axes.map((axis) => axis[k]));
  return [...turn, ...moveMm].map((c) => short(c, DIGITS[0])).join(' ');
}

function contentTypes(hasThumbnail: boolean): string {
  const types: [string, string][] = [
    ['rels', 'application/vnd.openxmlformats-package.relationships+xml'],
    ['model', 'application/vnd.ms-package.3dmanufacturing-3dmodel+xml'],
    ...(hasThumbnail ? [['png', 'image/png'] as [string, string]] : []),
  ];
  const rows = types.map(([extension, type]) => `<Default Extension="${extension}" ContentType="${type}"/>`);
  return `${DECLARATION}<Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types">${rows.join('')}</Types>\n`;
}

function relationships(hasThumbnail: boolean): string {
  const targets: [string, string][] = [
    ['/3D/3dmodel.model', 'http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel'],
    ...(hasThumbnail
      ? [
          [
            `/${THUMBNAIL}`,
            'http://schemas.openxmlformats.org/package/2006/relationships/metadata/thumbnail',
          ] as [string, string],
        ]
      : []),
  ];
  const rows = targets.map(
    ([target, type], i) => `<Relationship Target="${target}" Id="rel${i}" Type="${type}"/>`,
  );
  return `${DECLARATION}<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships">${rows.join('')}</Relationships>\n`;
}

/** One element per vertex, then one per triangle. */
function writeMesh(mesh: TriangleMesh, xml: ByteText): void {
  const digits = digitsOf(mesh);
  const compiled = digits === QUICK_DIGITS ? passesOver(mesh)?.elements() : undefined;
  if (!compiled) {
    writePlainly(mesh, digits, xml);
    return;
  }
  xml.text('<vertices>\n').add(compiled.vertices).text('</vertices>\n<triangles>\n');
  xml.add(compiled.triangles).text('</triangles>\n');
}

export function writePlainly({ positions, triangles }: TriangleMesh, digits: number, xml: ByteText): void {
  xml.text('<vertices>\n');
  for (let p = 0; p < positions.length; p += 3) writeVertex(positions, p, digits, xml);
  xml.text('</vertices>\n<triangles>\n');
  for (let t = 0; t < triangles.length; t += 3)
    writeTriangle(triangles[t], triangles[t + 1], triangles[t + 2], xml);
  xml.text('</triangles>\n');
}

function writeVertex(positions: Float64Array, p: number, digits: number, xml: ByteText): void {
  writeCoordinate(positions[p], digits, xml.text('<vertex x="'));
  writeCoordinate(positions[p + 1], digits, xml.text('" y="'));
  writeCoordinate(positions[p + 2], digits, xml.text('" z="'));
  xml.text('"/>\n');
}

function writeTriangle(a: number, b: number, c: number, xml: ByteText): void {
  if (a === b || b === c || c === a) return;
  xml.text('<triangle v1="').whole(a).text('" v2="').whole(b).text('" v3="').whole(c).text('"/>\n');
}

/** The smallest number of `DIGITS` with which vertices at different places never get the same text. */
function digitsOf(mesh: TriangleMesh): number {
  const areApart = (digits: number): boolean =>
    (digits === QUICK_DIGITS ? meshKernel(mesh)?.areApart(mesh.positions) : undefined) ??
    areApartPlainly(mesh.positions, digits);
  return DIGITS.find(areApart) ?? DIGITS.at(-1)!;
}

/** Whether no two vertices get the same text. */
export function areApartPlainly(positions: Float64Array, digits: number): boolean {
  const count = positions.length / 3;
  const places = new VertexWelder(0, count);
  const written = (at: number): number => {
    const value = positions[at];
    return isQuick(value, digits)
      ? Math.sign(value) * (unitsOf(value) / UNITS)
      : Number(short(value, digits));
  };
  for (let p = 0; p < positions.length; p += 3) places.add(written(p), written(p + 1), written(p + 2));
  return places.count === count;
}

/** Coordinates below this times 10^5 are integers, or half integers, that a double represents exactly. */
const MOST_QUICK = 20_000;
const QUICK_DIGITS = 5;
const UNITS = 1e5;

const isQuick = (value: number, digits: number): boolean =>
  digits === QUICK_DIGITS && Math.abs(value) < MOST_QUICK && Math.fround(value) === value;

/**
 * The size of a 32-bit number at its fifth digit: its 24 bits times 10^5 need 36 bits, so the product is exact and is rounded as text would
 * be, halves away from zero.
 */
const unitsOf = (value: number): number => Math.floor(Math.abs(value) * UNITS + 0.5);

/** The same text as `short`, several times as fast for 32-bit numbers. */
function writeCoordinate(value: number, digits: number, xml: ByteText): void {
  if (!isQuick(value, digits)) {
    xml.text(short(value, digits));
    return;
  }
  const units = unitsOf(value);
  if (value < 0 && units > 0) xml.text('-');
  const whole = Math.floor(units / UNITS);
  xml.whole(whole);
  let rest = units - UNITS * whole;
  if (rest === 0) return;
  let width = digits;
  for (; rest % 10 === 0; rest /= 10) width--;
  xml.text('.').whole(rest, width);
}

function short(value: number, digits: number): string {
  if (!Number.isFinite(value)) throw new RangeError(`a coordinate to write is ${value}`);
  const text = value.toFixed(digits).replace(/\.?0+$/, '');
  return text === '-0' ? '0' : text;
}

/** Escapes text for XML content and attributes; characters not allowed in XML 1.0 are dropped. */
function xmlText(text: string): string {
  const marks: Record<string, string> = {
    '&': '&amp;',
    '<': '&lt;',
    '>': '&gt;',
    '"': '&quot;',
    "'": '&apos;',
  };
  return text
    .replace(/[^\t\n\r\u0020-\ud7ff\ue000-\ufffd\u{10000}-\u{10ffff}]/gu, '')
    .replace(/[&<>"']/g, (c) => marks[c]);
}
