import { InputFailure } from '../../foundation/failure.js';
import { quoted } from '../../foundation/quoted-text.js';
import type { TriangleMesh } from '../mesh.js';

export const MOST_TRIANGLES = 5_000_000;
export const MOST_BYTES = 2 ** 30;
/** Greatest number of objects or instances in one file; more would be an attack on memory rather than a segmentation. */
export const MOST_OBJECTS = 10_000;

export type MeshFormat = 'stl-binary' | 'stl-ascii' | 'obj' | 'ply' | 'gltf' | 'glb' | '3mf';

/** One named part of a mesh file; `mesh` is indexed as in the file (STL: equal corners already joined). */
export interface MeshObject {
  /** Its name in the file, without invisible characters, or else the file name without extension. */
  name: string;
  mesh: TriangleMesh;
}

/** A mesh file as read, in the unit and axes of the file. */
export interface MeshFile {
  format: MeshFormat | 'label-map';
  objects: MeshObject[];
  /** Millimetres per coordinate unit, if stated by the format or file (glTF: 1000 by standard); else absent. */
  unitMm?: number;
  /** Notes for the user, as sentences. */
  notes: string[];
  /** Metadata of a packed format, `NAME: TEXT`, as in the file; not safe to print. */
  metadata?: string[];
}

/** Stops reading with the error that the user sees: `FILE: WHERE: WHAT. TODO.` Exit code 3. */
export function refuse(file: string, where: string, what: string, todo: string): never {
  throw new InputFailure(3, `${file}: ${where ? `${where}: ` : ''}${what}. ${todo}.`);
}

export const EXPORT_AGAIN = 'Export the surface again';

/** Rejects more triangles than the limit. */
export function checkTriangleCount(file: string, count: number): void {
  if (count > MOST_TRIANGLES) {
    refuse(
      file,
      '',
      `${count} triangles are more than the ${MOST_TRIANGLES} that can be read`,
      'Reduce the surface or export each structure to a file of its own',
    );
  }
}

export function checkByteCount(file: string, bytes: number): void {
  if (bytes === 0) refuse(file, '', 'the file is empty', EXPORT_AGAIN);
  if (bytes > MOST_BYTES) {
    refuse(
      file,
      '',
      `${bytes} bytes are more than the ${MOST_BYTES} (1 GiB) that can be read`,
      'Reduce the surface',
    );
  }
}

/** A name from a file made safe to print: no invisible characters, at most 100 characters. */
export function plainName(text: string): string {
  const clean = text.replace(/[\p{Cc}\p{Cf}\p{Cs}\p{Co}\p{Zl}\p{Zp}]/gu, '').trim();
  return [...clean].slice(0, 100).join('');
}

/** File name without folders and extension, for objects without a name. */
export function stem(file: string): string {
  const base = file.slice(Math.max(file.lastIndexOf('/'), file.lastIndexOf('\\')) + 1);
  const dot = base.lastIndexOf('.');
  return plainName(dot > 0 ? base.slice(0, dot) : base) || 'surface';
}

/** Makes names unique by numbering repeats: `vessel`, `vessel 2`. */
export function uniqueNames(objects: MeshObject[]): void {
  const taken = new Set<string>();
  const nextNumber = new Map<string, number>();
  for (const object of objects) {
    let name = object.name;
    let n = nextNumber.get(object.name) ?? 2;
    while (taken.has(name)) name = `${object.name} ${n++}`;
    nextNumber.set(object.name, n);
    taken.add(name);
    object.name = name;
  }
}

/** The object with a name; if there is none, the error lists the names. */
export function pickObject(file: string, objects: readonly MeshObject[], name: string): MeshObject {
  const found = objects.find((o) => o.name === name);
  if (found) return found;
  const names = objects.slice(0, 20).map((o) => quoted(o.name));
  const more = objects.length > 20 ? ` and ${objects.length - 20} more` : '';
  return refuse(
    file,
    '',
    `it has no object ${quoted(name)}`,
    `Name one of its objects: ${names.join(', ')}${more}`,
  );
}
