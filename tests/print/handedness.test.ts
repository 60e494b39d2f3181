import { describe, expect, it } from 'vitest';
import type { Vec3 } from '../../src/foundation/vector.js';
import { heronLesion } from '../../src/phantoms/demo-lesions.js';
import { handedness } from '../../src/print/handedness.js';
import { modelId } from '../../src/print/model-id.js';
import { preparePrint } from '../../src/print/prepare-print.js';
import { tagAxes } from '../../src/print/tag.js';
import { inputOf, straightVessel } from './make.js';

const vesselAt = (name: string, at: Vec3) => straightVessel(name, at, 10, 4);

describe('handedness', () => {
  const axes = tagAxes('LPS');

  it('three landmarks as the reader of the tag sees them, worked out by hand', () => {
    // x to the right, z up: from (0, 0) to (20, 0) to (0, 20) is counter-clockwise.
    const marks: [string, Vec3][] = [
      ['A1', [0, 5, 0]],
      ['A2', [20, -3, 0]],
      ['V1', [0, 1, 20]],
    ];
    const lesion = { vessels: marks.map(([name, at]) => vesselAt(name, at)), neighbours: [] };
    expect(handedness(lesion, axes)).toMatchObject({ turn: 'anticlockwise' });
    const flipped = {
      vessels: marks.map(([name, [x, y, z]]) => vesselAt(name, [-x, y, z])),
      neighbours: [],
    };
    expect(handedness(flipped, axes)!.turn).toBe('clockwise');
    // In RAS the reader's right is -x.
    expect(handedness(lesion, tagAxes('RAS'))!.turn).toBe('clockwise');
  });

  it('there is none for three in line, or for two', () => {
    const line: Vec3[] = [
      [0, 0, 0],
      [10, 0, 0],
      [20, 0, 0],
    ];
    const vessels = line.map((at, i) => vesselAt(`A${i}`, at));
    expect(handedness({ vessels, neighbours: [] }, axes)).toBeUndefined();
    expect(handedness({ vessels: vessels.slice(0, 2), neighbours: [] }, axes)).toBeUndefined();
  });
});

describe('the model number', () => {
  const cube = {
    positions: Float64Array.from([0, 0, 0, 1, 0, 0, 0, 1, 0]),
    triangles: Uint32Array.from([0, 1, 2]),
  };
  it('changes with body, scale and wall, and with nothing else', () => {
    const { sha256, short } = modelId(cube, 1, 0);
    expect(sha256.slice(0, 8).toUpperCase()).toBe(short);
    expect(modelId({ ...cube }, 1, 0)).toEqual({ sha256, short });
    const other = { ...cube, positions: cube.positions.map((x) => 1.001 * x) };
    const all = [modelId(other, 1, 0), modelId(cube, 2, 0), modelId(cube, 1, 1.2)];
    expect(new Set([sha256, ...all.map((id) => id.sha256)]).size).toBe(4);
  });

  it('is on the tag and in the result, with the landmarks', async () => {
    const { result } = await preparePrint(inputOf(heronLesion()));
    expect(result.model_id).toMatch(/^[0-9A-F]{8}$/);
    expect(result.tag_lines).toContain(result.model_id);
    expect(result.handedness!.landmarks).toHaveLength(3);
  }, 60_000);
});
