import { strToU8, zipSync } from 'fflate';
import type { TriangleMesh } from '../../src/mesh/mesh.js';
import { writeStl } from '../../src/mesh/write-stl.js';

/** Writers for test input only, written from the format descriptions; the program uses none of them. */

export const asciiStl = (mesh: TriangleMesh, name = 'part'): Uint8Array => {
  const lines = [`solid ${name}`];
  for (let t = 0; t < mesh.triangles.length; t += 3) {
    lines.push(' facet normal 0 0 0', '  outer loop');
    for (let k = 0; k < 3; k++) lines.push(`   vertex ${corner(mesh, t + k).join(' ')}`);
    lines.push('  endloop', ' endfacet');
  }
  return strToU8(`${[...lines, `endsolid ${name}`].join('\n')}\n`);
};

export const obj = (mesh: TriangleMesh, head = ''): Uint8Array => {
  const lines = [head];
  for (let v = 0; v < mesh.positions.length / 3; v++) lines.push(`v ${vertex(mesh, v).join(' ')}`);
  for (let t = 0; t < mesh.triangles.length; t += 3) {
    lines.push(`f ${[...mesh.triangles.slice(t, t + 3)].map((v) => v + 1).join(' ')}`);
  }
  return strToU8(`${lines.join('\n')}\n`);
};

export function ply(
  mesh: TriangleMesh,
  encoding: 'ascii' | 'binary_little_endian' | 'binary_big_endian',
  real: 'float' | 'double' = 'float',
): Uint8Array {
  const vertices = mesh.positions.length / 3;
  const faces = mesh.triangles.length / 3;
  const head = strToU8(
    `ply\nformat ${encoding} 1.0\ncomment made for a test\nelement vertex ${vertices}\nproperty ${real} x\nproperty ${real} y\n` +
      `property ${real} z\nproperty uchar red\nelement face ${faces}\nproperty list uchar int vertex_indices\nproperty short quality\nend_header\n`,
  );
  if (encoding === 'ascii') {
    const lines = [];
    for (let v = 0; v < vertices; v++) lines.push(`${vertex(mesh, v).join(' ')} 255`);
    for (let t = 0; t < faces; t++)
      lines.push(`3 ${[...mesh.triangles.slice(3 * t, 3 * t + 3)].join(' ')} 7`);
    return joinBytes(head, strToU8(`${lines.join('\n')}\n`));
  }
  const little = encoding === 'binary_little_endian';
  const width = real === 'float' ? 4 : 8;
  const body = new Uint8Array(vertices * (3 * width + 1) + faces * 15);
  const view = new DataView(body.buffer);
  let p = 0;
  for (let v = 0; v < vertices; v++) {
    for (const x of vertex(mesh, v)) {
      if (width === 4) view.setFloat32(p, x, little);
      else view.setFloat64(p, x, little);
      p += width;
    }
    view.setUint8(p++, 255);
  }
  for (let t = 0; t < faces; t++) {
    view.setUint8(p++, 3);
    for (let k = 0; k < 3; k++, p += 4) view.setInt32(p, mesh.triangles[3 * t + k], little);
    view.setInt16(p, 7, little);
    p += 2;
  }
  return joinBytes(head, body);
}

/** glTF JSON and its binary data; positions as 32-bit floats, indices as 32-bit. */
export function gltfParts(mesh: TriangleMesh): { json: GltfJson; data: Uint8Array } {
  const positions = Float32Array.from(mesh.positions);
  const data = joinBytes(new Uint8Array(positions.buffer), new Uint8Array(mesh.triangles.slice().buffer));
  const json: GltfJson = {
    asset: { version: '2.0' },
    scene: 0,
    scenes: [{ nodes: [0] }],
    nodes: [{ mesh: 0, name: 'part' }],
    meshes: [{ primitives: [{ attributes: { POSITION: 0 }, indices: 1 }] }],
    accessors: [
      { bufferView: 0, componentType: 5126, count: positions.length / 3, type: 'VEC3' },
      { bufferView: 1, componentType: 5125, count: mesh.triangles.length, type: 'SCALAR' },
    ],
    bufferViews: [
      { buffer: 0, byteOffset: 0, byteLength: positions.byteLength },
      { buffer: 0, byteOffset: positions.byteLength, byteLength: data.length - positions.byteLength },
    ],
    buffers: [{ byteLength: data.length }],
  };
  return { json, data };
}

export interface GltfJson {
  [key: string]: unknown;
  nodes: Record<string, unknown>[];
  meshes: { primitives: Record<string, unknown>[] }[];
  accessors: Record<string, unknown>[];
  bufferViews: Record<string, unknown>[];
  buffers: Record<string, unknown>[];
}

export const gltf = (json: GltfJson, data: Uint8Array): Uint8Array => {
  const uri = `data:application/octet-stream;base64,${Buffer.from(data).toString('base64')}`;
  return strToU8(JSON.stringify({ ...json, buffers: [{ ...json.buffers[0], uri }] }));
};

export function glb(json: GltfJson, data: Uint8Array): Uint8Array {
  const text = strToU8(JSON.stringify(json));
  const padded = new Uint8Array(Math.ceil(text.length / 4) * 4).fill(32);
  padded.set(text);
  const head = new Uint8Array(20);
  const view = new DataView(head.buffer);
  view.setUint32(0, 0x46546c67, true);
  view.setUint32(4, 2, true);
  view.setUint32(8, 28 + padded.length + data.length, true);
  view.setUint32(12, padded.length, true);
  view.setUint32(16, 0x4e4f534a, true);
  const second = new Uint8Array(8);
  new DataView(second.buffer).setUint32(0, data.length, true);
  new DataView(second.buffer).setUint32(4, 0x004e4942, true);
  return joinBytes(head, padded, second, data);
}

/** A 3MF package around the given model document. */
export const threeMf = (model: string, extra: Record<string, Uint8Array> = {}): Uint8Array =>
  zipSync({
    '_rels/.rels': strToU8(
      '<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships"><Relationship Target="/3D/3dmodel.model" Id="r" Type="http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel"/></Relationships>',
    ),
    '3D/3dmodel.model': strToU8(model),
    ...extra,
  });

export const meshXml = (mesh: TriangleMesh): string => {
  const parts = ['<mesh><vertices>'];
  for (let v = 0; v < mesh.positions.length / 3; v++) {
    const [x, y, z] = vertex(mesh, v);
    parts.push(`<vertex x="${x}" y="${y}" z="${z}"/>`);
  }
  parts.push('</vertices><triangles>');
  for (let t = 0; t < mesh.triangles.length; t += 3) {
    parts.push(
      `<triangle v1="${mesh.triangles[t]}" v2="${mesh.triangles[t + 1]}" v3="${mesh.triangles[t + 2]}"/>`,
    );
  }
  return `${parts.join('')}</triangles></mesh>`;
};

export const model = (resources: string, build: string, attributes = 'unit="millimeter"'): string =>
  `<?xml version="1.0"?><model ${attributes} xmlns="http://schemas.microsoft.com/3dmanufacturing/core/2015/02"><resources>${resources}</resources><build>${build}</build></model>`;

/** One valid file of each format containing the mesh. */
export function everyFormat(mesh: TriangleMesh): Record<string, Uint8Array> {
  const { json, data } = gltfParts(mesh);
  return {
    'binary.stl': writeStl(mesh),
    'ascii.stl': asciiStl(mesh),
    'part.obj': obj(mesh, 'o part'),
    'ascii.ply': ply(mesh, 'ascii'),
    'little.ply': ply(mesh, 'binary_little_endian', 'double'),
    'big.ply': ply(mesh, 'binary_big_endian'),
    'part.gltf': gltf(json, data),
    'part.glb': glb(json, data),
    'part.3mf': threeMf(
      model(`<object id="1" name="part">${meshXml(mesh)}</object>`, '<item objectid="1"/>'),
    ),
  };
}

export function joinBytes(...parts: Uint8Array[]): Uint8Array {
  const bytes = new Uint8Array(parts.reduce((sum, p) => sum + p.length, 0));
  let at = 0;
  for (const part of parts) {
    bytes.set(part, at);
    at += part.length;
  }
  return bytes;
}

const vertex = (mesh: TriangleMesh, v: number): number[] => [...mesh.positions.slice(3 * v, 3 * v + 3)];
const corner = (mesh: TriangleMesh, i: number): number[] => vertex(mesh, mesh.triangles[i]);
