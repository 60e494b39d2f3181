import { SaxesParser } from 'saxes';
import { quoted } from '../../foundation/quoted-text.js';
import { chained, type Matrix4, transformMesh } from '../transform.js';
import { checkIndices } from './mesh-builder.js';
import {
  checkTriangleCount,
  EXPORT_AGAIN,
  type MeshFile,
  type MeshObject,
  MOST_OBJECTS,
  refuse,
  stem,
  uniqueNames,
} from './mesh-file.js';
import { type Model, type ModelComponent, type ModelObject, modelReader } from './threemf-model.js';
import { unpackEntry, type ZipEntry, zipEntries } from './zip-entries.js';

const MODEL_RELATIONSHIP = 'http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel';
const IDENTITY: Matrix4 = [1, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1];
const MOST_PARTS = 1000;
const MOST_DEPTH = 32;

/**
 * 3MF (core specification 1.3, with the production extension's parts): each mesh reached from the build list is one object, with its
 * transforms applied, named as in the file.
 */
export function read3mf(bytes: Uint8Array, file: string): MeshFile {
  const entries = zipEntries(bytes, file);
  const start = modelPart(bytes, entries, file);
  const notes: string[] = [];
  const main = readModel(bytes, entries, file, start);
  const objects = new Map(main.objects);
  const waiting = [...main.otherParts];
  const seen = new Set([start]);
  for (let part = waiting.pop(); part !== undefined; part = waiting.pop()) {
    if (seen.has(part)) continue;
    seen.add(part);
    if (seen.size > MOST_PARTS) refuse(file, '', `more than ${MOST_PARTS} model parts`, 'Split the file');
    const other = readModel(bytes, entries, file, part);
    if (other.unitMm !== main.unitMm) {
      refuse(file, '', `its parts state different units`, 'Export it again with one unit');
    }
    for (const [key, object] of other.objects) objects.set(key, object);
    waiting.push(...other.otherParts);
  }
  let items: ModelComponent[] = main.items;
  if (items.length === 0) {
    notes.push('The build list is empty, so all meshes of the file were taken.');
    items = [...objects.values()].filter((o) => o.mesh).map((o) => ({ object: o.key }));
  }
  const placed = placeItems(items, objects, file, notes);
  uniqueNames(placed);
  return { format: '3mf', objects: placed, unitMm: main.unitMm, notes, metadata: main.metadata };
}

function placeItems(
  items: readonly ModelComponent[],
  objects: Map<string, ModelObject>,
  file: string,
  notes: string[],
): MeshObject[] {
  const placed: MeshObject[] = [];
  let triangles = 0;
  let visits = 0;
  let supports = 0;
  const place = (use: ModelComponent, above: Matrix4, parents: string[], parentName: string): void => {
    const object = objects.get(use.object);
    const shown = use.object.slice(use.object.lastIndexOf('#') + 1);
    if (!object) refuse(file, '', `it names the object ${quoted(shown)}, which is not there`, EXPORT_AGAIN);
    if (parents.includes(use.object) || parents.length > MOST_DEPTH) {
      refuse(file, '', `the object ${quoted(shown)} contains itself or is nested too deep`, EXPORT_AGAIN);
    }
    if (++visits > MOST_OBJECTS) {
      refuse(file, '', `its components unfold to more than ${MOST_OBJECTS} objects`, 'Split the file');
    }
    const matrix = use.transform ? chained(columnMajor(use.transform), above) : above;
    const name = object.name || parentName;
    if (object.type === 'support' || object.type === 'solidsupport') {
      supports++;
      return;
    }
    if (object.mesh && object.mesh.triangles.length > 0) {
      triangles += object.mesh.triangles.length / 3;
      checkTriangleCount(file, triangles);
      const mesh = object.mesh.mesh();
      checkIndices(file, mesh, `object ${quoted(name || shown)}: `);
      placed.push({ name: name || stem(file), mesh: transformMesh(mesh, matrix) });
    }
    for (const component of object.components) place(component, matrix, [...parents, use.object], name);
  };
  for (const item of items) place(item, IDENTITY, [], '');
  if (supports > 0) notes.push(`${supports} support objects were left out.`);
  return placed;
}

/** The twelve numbers are for row vectors, so they are already the columns of the matrix for column vectors. */
function columnMajor(m: readonly number[]): number[] {
  return [m[0], m[1], m[2], 0, m[3], m[4], m[5], 0, m[6], m[7], m[8], 0, m[9], m[10], m[11], 1];
}

function readModel(bytes: Uint8Array, entries: Map<string, ZipEntry>, file: string, part: string): Model {
  const entry = entries.get(part);
  if (!entry) return refuse(file, 'ZIP package', `the model part ${quoted(part)} is missing`, EXPORT_AGAIN);
  const reader = modelReader(file, part);
  unpackText(bytes, entry, file, (text) => reader.write(text));
  return reader.end();
}

function unpackText(bytes: Uint8Array, entry: ZipEntry, file: string, take: (text: string) => void): void {
  const decoder = new TextDecoder('utf-8', { fatal: true });
  const decode = (piece?: Uint8Array): string => {
    try {
      return decoder.decode(piece, { stream: piece !== undefined });
    } catch {
      return refuse(file, `entry ${quoted(entry.name)}`, 'it is not UTF-8 text', EXPORT_AGAIN);
    }
  };
  const step = 2 ** 20;
  unpackEntry(bytes, entry, file, (piece) => {
    for (let p = 0; p < piece.length; p += step) take(decode(piece.subarray(p, p + step)));
  });
  take(decode());
}

/** The model part that the package's relationships name; otherwise the one at the usual path. */
function modelPart(bytes: Uint8Array, entries: Map<string, ZipEntry>, file: string): string {
  const relationships = entries.get('_rels/.rels');
  let target: string | undefined;
  if (relationships) {
    const parser = new SaxesParser({ xmlns: false });
    const bad = (what: string): never => refuse(file, '_rels/.rels', what, EXPORT_AGAIN);
    parser.on('doctype', () => bad('it has a document type, which is not allowed'));
    parser.on('error', () => bad('it is not well-formed XML'));
    parser.on('opentag', (tag) => {
      if (tag.attributes.Type === MODEL_RELATIONSHIP) target ??= tag.attributes.Target;
    });
    unpackText(bytes, relationships, file, (text) => parser.write(text));
    parser.close();
  }
  const part = (target ?? '3D/3dmodel.model').replace(/^\/+/, '').toLowerCase();
  if (!entries.has(part)) {
    refuse(
      file,
      'ZIP package',
      'it contains no 3MF model',
      'Give a mesh file; a folder packed by ZIP is not read',
    );
  }
  return part;
}
