import { describe, expect, it } from 'vitest';
import { headerProblem, isMeshName } from '../../src/case/input-header.js';

const text = (s: string) => new TextEncoder().encode(s);

function binaryStl(claimed: number, held: number, start = ''): Uint8Array {
  const bytes = new Uint8Array(84 + 50 * held);
  bytes.set(text(start).subarray(0, 80));
  new DataView(bytes.buffer).setUint32(80, claimed, true);
  return bytes;
}

function glb(version: number, length: number, held: number): Uint8Array {
  const bytes = new Uint8Array(held);
  bytes.set(text('glTF'));
  new DataView(bytes.buffer).setUint32(4, version, true);
  new DataView(bytes.buffer).setUint32(8, length, true);
  return bytes;
}

function nifti(headerSize: number, little: boolean): Uint8Array {
  const bytes = new Uint8Array(352);
  new DataView(bytes.buffer).setInt32(0, headerSize, little);
  return bytes;
}

function dicom(): Uint8Array {
  const bytes = new Uint8Array(140);
  bytes.set(text('DICM'), 128);
  return bytes;
}

const problem = (bytes: Uint8Array, name: string, role: 'mesh' | 'labels' = 'mesh') =>
  headerProblem(bytes.subarray(0, 4096), bytes.length, name, role);

describe('valid headers', () => {
  it.each([
    ['a.stl', binaryStl(3, 3)],
    ['a.STL', binaryStl(3, 3, 'solid though binary')],
    ['a.stl', binaryStl(200, 200, 'solid')],
    ['a.stl', text('solid x\n facet normal 0 0 1\n')],
    ['a.obj', text('# x\nv 0 0 0\n')],
    ['a.ply', text('ply\nformat ascii 1.0\n')],
    ['a.glb', glb(2, 20, 20)],
    ['a.gltf', text('{ "asset": {} }')],
    ['a.3mf', text('PK\u0003\u0004xxxx')],
  ])('%s', (name, bytes) => {
    expect(problem(bytes, name)).toBeUndefined();
  });

  it.each([
    ['l.nii', nifti(348, true)],
    ['l.nii', nifti(540, false)],
    ['l.nii.gz', Uint8Array.from([0x1f, 0x8b, 8])],
    ['l.nrrd', text('NRRD0004\ntype: uchar\n')],
    ['l.seg.nrrd', text('NRRD0005\r\n')],
    ['l.dcm', dicom()],
    ['segmentation', dicom()],
  ])('%s', (name, bytes) => {
    expect(problem(bytes, name, 'labels')).toBeUndefined();
  });
});

describe('headers that are false or belong to something else', () => {
  it.each([
    ['a.stl', binaryStl(4, 3), 'claims 4 triangles, which need 284 bytes, but has 234'],
    ['a.stl', binaryStl(0xffffffff, 1), 'claims 4294967295 triangles, which need 214748364834 bytes'],
    ['a.stl', binaryStl(0, 0), 'contains no triangle'],
    ['a.stl', text('abc'), 'has 3 bytes; an STL file has at least 84'],
    ['a.stl', text('solid empty\n'), 'contains no facet'],
    ['a.obj', Uint8Array.from([1, 0, 2]), 'contains binary data'],
    ['a.ply', text('plywood'), 'does not start with "ply"'],
    ['a.glb', text('xxxx'), 'does not start with "glTF"'],
    ['a.glb', glb(1, 20, 20), 'is glTF version 1'],
    ['a.glb', glb(2, 21, 20), 'claims 21 bytes but has 20'],
    ['a.gltf', text('[]'), 'does not start with "{"'],
    ['a.3mf', text('<xml>'), 'is no ZIP archive'],
    ['a.stl', text('version https://git-lfs.github.com/spec/v1\n'), 'is a Git LFS pointer'],
    ['a.obj', text('<!DOCTYPE html><html>'), 'is a web page'],
    ['a.step', text('ISO'), 'has an ending that is not read'],
  ])('%s: %s', (name, bytes, message) => {
    expect(problem(bytes, name)).toContain(message);
  });

  it.each([
    ['l.nii', nifti(349, true), 'has no NIfTI header'],
    ['l.nii', text('x'), 'is shorter than a NIfTI header'],
    ['l.nii.gz', nifti(348, true), 'is not compressed with gzip'],
    ['l.nrrd', text('NRRD9999\n'), 'as an NRRD file does'],
    ['l.dcm', new Uint8Array(200), 'has no "DICM" at byte 128'],
    ['l.png', new Uint8Array(200), 'has an ending that is not read'],
  ])('%s: %s', (name, bytes, message) => {
    expect(problem(bytes, name, 'labels')).toContain(message);
  });

  it('survives an empty header', () => {
    for (const name of ['a.stl', 'a.obj', 'a.ply', 'a.glb', 'a.gltf', 'a.3mf'])
      problem(new Uint8Array(0), name);
    expect(problem(new Uint8Array(0), 'a.glb')).toBeDefined();
  });
});

it('knows the file extensions of meshes', () => {
  expect(['a.stl', 'b.OBJ', 'c.ply', 'd.glb', 'e.gltf', 'f.3mf', 'g.txt', 'stl'].map(isMeshName)).toEqual([
    true,
    true,
    true,
    true,
    true,
    true,
    false,
    false,
  ]);
});
