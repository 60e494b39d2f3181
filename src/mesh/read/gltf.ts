import type { GLTF, Node as GltfNode, Primitive } from '@gltf-transform/core';
import { InputFailure } from '../../foundation/failure.js';
import { transformMesh } from '../transform.js';
import { checkGltf } from './gltf-check.js';
import { checkIndices, MeshBuilder } from './mesh-builder.js';
import {
  EXPORT_AGAIN,
  type MeshFile,
  type MeshObject,
  plainName,
  refuse,
  stem,
  uniqueNames,
} from './mesh-file.js';

/** glTF 2.0 coordinates are metres (specification, section 3.4). */
const GLTF_UNIT_MM = 1000;
const JSON_CHUNK = 0x4e4f534a;
const BINARY_CHUNK = 0x004e4942;

/**
 * glTF 2.0 with embedded data and GLB. Each mesh in the scene is one object, in scene coordinates (metres, y up as in the standard).
 * Compressed meshes and data in other files are rejected.
 */
export async function readGltf(bytes: Uint8Array, file: string): Promise<MeshFile> {
  const isBinary = bytes[0] === 0x67 && bytes[1] === 0x6c && bytes[2] === 0x54 && bytes[3] === 0x46;
  const chunks = isBinary ? glbChunks(bytes, file) : { json: bytes };
  const json = checkGltf(parseJson(chunks.json, file), file, chunks.binary?.length);
  // Images, animations and skins do not affect the surface and might refer to other files.
  for (const key of ['images', 'textures', 'samplers', 'materials', 'animations', 'skins', 'cameras'])
    delete json[key];
  for (const key of ['extensions', 'extensionsUsed', 'extensionsRequired']) delete json[key];
  stripReferences(json);
  const { Logger, WebIO } = await import('@gltf-transform/core');
  const io = new WebIO().setLogger(new Logger(Logger.Verbosity.SILENT));
  const objects: MeshObject[] = [];
  const notes: string[] = [];
  try {
    const resources: Record<string, Uint8Array<ArrayBuffer>> = chunks.binary
      ? { '@glb.bin': new Uint8Array(chunks.binary) }
      : {};
    const document = await io.readJSON({ json: json as unknown as GLTF.IGLTF, resources });
    const root = document.getRoot();
    const scene = root.getDefaultScene() ?? root.listScenes()[0];
    let left = 0;
    const visit = (node: GltfNode): void => {
      const mesh = node.getMesh();
      if (mesh) {
        const build = new MeshBuilder(file);
        for (const primitive of mesh.listPrimitives()) {
          if (!addPrimitive(build, primitive, plainName(mesh.getName()) || node.getName())) left++;
        }
        if (build.triangles.length > 0) {
          const local = build.mesh();
          checkIndices(file, local, `mesh ${plainName(mesh.getName())}: `);
          const name = plainName(node.getName()) || plainName(mesh.getName()) || stem(file);
          objects.push({ name, mesh: transformMesh(local, node.getWorldMatrix()) });
        }
      }
    };
    if (scene) scene.traverse(visit);
    else for (const node of root.listNodes()) visit(node);
    if (left > 0) notes.push(`${left} parts made of points or lines were left out.`);
  } catch (error) {
    if (error instanceof InputFailure) throw error;
    refuse(file, 'glTF', 'its structure is damaged', EXPORT_AGAIN);
  }
  uniqueNames(objects);
  return { format: isBinary ? 'glb' : 'gltf', objects, unitMm: GLTF_UNIT_MM, notes };
}

/** False if the primitive has no triangles (points, lines). Strips and fans are unrolled. */
function addPrimitive(build: MeshBuilder, primitive: Primitive, name: string): boolean {
  const mode = primitive.getMode();
  if (mode < 4) return false;
  const positions = primitive.getAttribute('POSITION');
  if (!positions) return false;
  const base = build.vertexCount;
  const point: number[] = [];
  for (let v = 0; v < positions.getCount(); v++) {
    positions.getElement(v, point);
    build.vertex(point[0], point[1], point[2], () => `mesh ${plainName(name)}: vertex ${v + 1}`);
  }
  const indices = primitive.getIndices();
  const count = indices ? indices.getCount() : positions.getCount();
  const at = (i: number): number => base + (indices ? indices.getScalar(i) : i);
  if (mode === 4) for (let i = 0; i + 2 < count; i += 3) build.triangle(at(i), at(i + 1), at(i + 2));
  else if (mode === 5) {
    for (let i = 0; i + 2 < count; i++) build.triangle(at(i), at(i + 1 + (i % 2)), at(i + 2 - (i % 2)));
  } else for (let i = 1; i + 1 < count; i++) build.triangle(at(0), at(i), at(i + 1));
  return true;
}

function stripReferences(json: Record<string, unknown>): void {
  const each = (list: unknown, change: (entry: Record<string, unknown>) => void): void => {
    if (Array.isArray(list)) for (const entry of list) change(entry as Record<string, unknown>);
  };
  const drop = (entry: Record<string, unknown>, keys: string[]): void => {
    for (const key of keys) delete entry[key];
  };
  each(json.nodes, (node) => drop(node, ['skin', 'camera', 'extensions', 'extras', 'weights']));
  each(json.meshes, (mesh) => {
    drop(mesh, ['weights', 'extensions', 'extras']);
    each(mesh.primitives, (primitive) => {
      drop(primitive, ['material', 'targets', 'extensions', 'extras']);
      const attributes = primitive.attributes as Record<string, unknown>;
      primitive.attributes = { POSITION: attributes.POSITION };
    });
  });
}

function parseJson(bytes: Uint8Array, file: string): unknown {
  try {
    return JSON.parse(new TextDecoder('utf-8', { fatal: true }).decode(bytes));
  } catch {
    return refuse(file, 'JSON', 'it cannot be read as JSON', EXPORT_AGAIN);
  }
}

function glbChunks(bytes: Uint8Array, file: string): { json: Uint8Array; binary?: Uint8Array } {
  const bad = (what: string): never => refuse(file, 'GLB header', what, EXPORT_AGAIN);
  if (bytes.length < 20) bad('the file is cut off');
  const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength);
  if (view.getUint32(4, true) !== 2) bad(`version ${view.getUint32(4, true)} is not 2`);
  const total = view.getUint32(8, true);
  if (total !== bytes.length) bad(`it states ${total} bytes and the file has ${bytes.length}`);
  let json: Uint8Array | undefined;
  let binary: Uint8Array | undefined;
  for (let p = 12; p + 8 <= bytes.length; ) {
    const length = view.getUint32(p, true);
    const type = view.getUint32(p + 4, true);
    if (p + 8 + length > bytes.length) bad('a chunk is longer than the file');
    const chunk = bytes.subarray(p + 8, p + 8 + length);
    if (type === JSON_CHUNK) json ??= chunk;
    else if (type === BINARY_CHUNK) binary ??= chunk;
    p += 8 + length;
  }
  if (!json) return bad('it has no JSON chunk');
  return binary ? { json, binary } : { json };
}
