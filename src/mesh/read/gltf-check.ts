import { quoted } from '../../foundation/quoted-text.js';
import { EXPORT_AGAIN, MOST_BYTES, MOST_OBJECTS, MOST_TRIANGLES, refuse } from './mesh-file.js';

type Json = Record<string, unknown>;

const COMPONENT_BYTES: Record<number, number> = { 5120: 1, 5121: 1, 5122: 2, 5123: 2, 5125: 4, 5126: 4 };
const TYPE_SIZES: Record<string, number> = {
  SCALAR: 1,
  VEC2: 2,
  VEC3: 3,
  VEC4: 4,
  MAT2: 4,
  MAT3: 9,
  MAT4: 16,
};
/** Extensions that do not affect the surface; any other required one is rejected. */
const HARMLESS = /^KHR_(materials_\w+|texture_transform|lights_punctual|mesh_quantization|xmp_json_ld)$/;

/**
 * Checks the JSON of a glTF 2.0 file before a library allocates memory for it: compressed or external data, sizes beyond the buffers,
 * invalid indices, cycles among the nodes.
 */
export function checkGltf(json: unknown, file: string, binaryChunk: number | undefined): Json {
  const bad: Bad = (where, what, todo = EXPORT_AGAIN) => refuse(file, where, what, todo);
  if (!isObject(json)) return bad('JSON', 'it is not a glTF document');
  checkVersion(json, bad);
  const buffers = objects(json, 'buffers', bad).map((buffer, i) => bufferLength(buffer, i, binaryChunk, bad));
  const views = objects(json, 'bufferViews', bad).map((view, i) => bufferView(view, i, buffers, bad));
  const accessors = objects(json, 'accessors', bad);
  for (const [i, accessor] of accessors.entries()) checkAccessor(accessor, i, views, bad);
  const nodes = objects(json, 'nodes', bad);
  const meshes = objects(json, 'meshes', bad);
  if (nodes.length > MOST_OBJECTS || meshes.length > MOST_OBJECTS) bad('', 'it has too many nodes or meshes');
  for (const [i, mesh] of meshes.entries()) {
    for (const primitive of objects(mesh, 'primitives', bad)) checkPrimitive(primitive, i, accessors, bad);
  }
  for (const [i, node] of nodes.entries()) checkNode(node, i, meshes.length, bad);
  checkTree(nodes, bad);
  checkScenes(json, nodes, bad);
  return json;
}

type Bad = (where: string, what: string, todo?: string) => never;

interface BufferView {
  length: number;
  stride: number;
}

function checkVersion(json: Json, bad: Bad): void {
  const asset = json.asset;
  if (!isObject(asset) || typeof asset.version !== 'string' || !asset.version.startsWith('2.')) {
    bad('asset', 'it is not glTF version 2', 'Export it as glTF 2.0');
  }
  for (const key of ['extensionsUsed', 'extensionsRequired']) {
    for (const name of list(json, key, bad)) {
      if (name === 'KHR_draco_mesh_compression' || name === 'EXT_meshopt_compression') {
        bad(key, `its meshes are compressed (${String(name)})`, 'Export it without mesh compression');
      }
      if (key === 'extensionsRequired' && (typeof name !== 'string' || !HARMLESS.test(name))) {
        bad(key, `it requires the extension ${quoted(String(name))}, which is not read`);
      }
    }
  }
}

/** The byte length stated for a buffer, if possible. */
function bufferLength(buffer: Json, i: number, binaryChunk: number | undefined, bad: Bad): number {
  const where = `buffers[${i}]`;
  const length = count(buffer.byteLength);
  if (length === undefined || length > MOST_BYTES) return bad(where, 'its length is not possible');
  if (buffer.uri === undefined) {
    if (i !== 0 || binaryChunk === undefined || length > binaryChunk) {
      bad(where, `it states ${length} bytes and the file holds ${binaryChunk ?? 0}`);
    }
  } else if (typeof buffer.uri !== 'string' || !/^data:[^,]*;base64,/.test(buffer.uri.slice(0, 200))) {
    bad(
      where,
      'its data are in another file',
      'Export it as one GLB file or with embedded data; other files are never opened',
    );
  } else if (length > (buffer.uri.length * 3) / 4) {
    bad(where, `it states ${length} bytes and its data URI holds fewer`);
  }
  return length;
}

function bufferView(view: Json, i: number, buffers: readonly number[], bad: Bad): BufferView {
  const where = `bufferViews[${i}]`;
  const buffer = count(view.buffer) ?? -1;
  const offset = count(view.byteOffset ?? 0) ?? -1;
  const length = count(view.byteLength) ?? -1;
  if (!(buffer in buffers) || offset < 0 || length < 0 || offset + length > buffers[buffer]) {
    bad(where, 'it lies outside its buffer');
  }
  const stride = count(view.byteStride ?? 0) ?? -1;
  if (stride < 0 || stride > 252) bad(where, 'its stride is not possible');
  return { length, stride };
}

function checkAccessor(accessor: Json, i: number, views: readonly BufferView[], bad: Bad): void {
  const where = `accessors[${i}]`;
  const n = count(accessor.count);
  const component = COMPONENT_BYTES[Number(accessor.componentType)];
  const width = TYPE_SIZES[String(accessor.type)];
  if (n === undefined || !component || !width) bad(where, 'its count or type is not possible');
  if (n > 3 * MOST_TRIANGLES) bad(where, `${n} elements are more than can be read`);
  if (accessor.sparse !== undefined)
    bad(where, 'it is sparse, which is not read', 'Export it without sparse data');
  const view = views[count(accessor.bufferView) ?? -1];
  const offset = count(accessor.byteOffset ?? 0) ?? -1;
  if (!view || offset < 0) bad(where, 'it has no buffer view');
  const element = component * width;
  if (n > 0 && offset + (n - 1) * (view.stride || element) + element > view.length) {
    bad(where, `it states ${n} elements, which its buffer view does not hold`);
  }
  if (offset % component !== 0) bad(where, 'its offset is not aligned');
}

function checkPrimitive(primitive: Json, mesh: number, accessors: Json[], bad: Bad): void {
  const where = `meshes[${mesh}]`;
  const attributes = isObject(primitive.attributes)
    ? primitive.attributes
    : bad(where, 'it has no attributes');
  const used = [
    ...Object.values(attributes),
    ...(primitive.indices === undefined ? [] : [primitive.indices]),
  ];
  for (const a of used)
    if (!((count(a) ?? -1) in accessors)) bad(where, 'it names an accessor that is not there');
  const position = accessors[Number(attributes.POSITION ?? bad(where, 'it has no positions'))];
  if (position.type !== 'VEC3') bad(where, 'its positions are not triples');
  if (primitive.indices !== undefined && accessors[Number(primitive.indices)].type !== 'SCALAR') {
    bad(where, 'its indices are not single numbers');
  }
}

function checkNode(node: Json, i: number, meshCount: number, bad: Bad): void {
  const where = `nodes[${i}]`;
  if (node.mesh !== undefined && !((count(node.mesh) ?? meshCount) < meshCount)) {
    bad(where, 'it names a mesh that is not there');
  }
  for (const [key, n] of [
    ['matrix', 16],
    ['translation', 3],
    ['rotation', 4],
    ['scale', 3],
  ] as const) {
    const values = node[key];
    if (values === undefined) continue;
    if (!Array.isArray(values) || values.length !== n || !values.every((v) => Number.isFinite(v))) {
      bad(where, `its ${key} is not ${n} numbers`);
    }
  }
}

function checkTree(nodes: Json[], bad: Bad): void {
  const parent = new Int32Array(nodes.length).fill(-1);
  for (const [i, node] of nodes.entries()) {
    for (const child of list(node, 'children', bad)) {
      const c = count(child) ?? -1;
      if (!(c in nodes) || parent[c] >= 0 || c === i) {
        bad(`nodes[${i}]`, 'its children do not form a tree');
      }
      parent[c] = i;
    }
  }
  // every node has at most one parent, so a path upwards longer than the number of nodes is a cycle
  const done = new Uint8Array(nodes.length);
  for (let i = 0; i < nodes.length; i++) {
    const path: number[] = [];
    for (let n = i; n >= 0 && !done[n]; n = parent[n]) {
      if (path.push(n) > nodes.length) bad(`nodes[${i}]`, 'it contains itself');
      if (path.length > 256) bad(`nodes[${i}]`, 'the nodes are nested too deep');
    }
    for (const n of path) done[n] = 1;
  }
}

function checkScenes(json: Json, nodes: Json[], bad: Bad): void {
  for (const [i, scene] of objects(json, 'scenes', bad).entries()) {
    for (const n of list(scene, 'nodes', bad)) {
      if (!((count(n) ?? -1) in nodes)) bad(`scenes[${i}]`, 'it names a node that is not there');
    }
  }
}

function isObject(value: unknown): value is Json {
  return typeof value === 'object' && value !== null && !Array.isArray(value);
}

function count(value: unknown): number | undefined {
  return typeof value === 'number' && Number.isSafeInteger(value) && value >= 0 ? value : undefined;
}

function list(json: Json, key: string, bad: Bad): unknown[] {
  const value = json[key] ?? [];
  return Array.isArray(value) ? value : bad(key, 'it is not a list');
}

function objects(json: Json, key: string, bad: Bad): Json[] {
  return list(json, key, bad).map((value, i) =>
    isObject(value) ? value : bad(`${key}[${i}]`, 'it is not an object'),
  );
}
