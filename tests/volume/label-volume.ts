import { type Body, sacBody, tubeBody } from '../../src/phantoms/field.js';
import { type LesionPlan, vesselsOf } from '../../src/phantoms/lesion.js';

/** A label map in memory: labels with the first axis running fastest, and the position of voxel (0, 0, 0), mm LPS. */
export interface LabelVolume {
  sizes: [number, number, number];
  spacing: [number, number, number];
  origin: [number, number, number];
  labels: Uint8Array;
}

/** Numbers of a lesion's structures in `labelVolume`: the sac 1, then the vessels in order. */
export const labelNumbers = (lesion: LesionPlan): Map<string, number> =>
  new Map([['sac', 1], ...lesion.vessels.map((v, i): [string, number] => [v.name, i + 2])]);

/**
 * Half the voxels of a structure's name: a voxel has the label of the structure that contains its centre, the sac and then
 * parents first.
 */
export function labelVolume(
  lesion: LesionPlan,
  spacing: [number, number, number],
  shift = 0.31,
): LabelVolume {
  const order: { label: number; body: Body }[] = [{ label: 1, body: sacBody(lesion.sac) }];
  const numbers = labelNumbers(lesion);
  const points: number[][] = [];
  for (const { plan, axis, calibreAt } of vesselsOf(lesion).values()) {
    const body = tubeBody(axis, calibreAt, 0);
    const entry = { label: numbers.get(plan.name)!, body };
    if (plan.role === 'branch') order.push(entry);
    else order.splice(order.length - order.filter((o) => o.label > 20).length, 0, entry);
    for (let s = 0; s <= axis.lengthMm; s += 1) {
      const r = calibreAt(s) / 2 + 1;
      const p = axis.pointAt(s);
      points.push(
        p.map((x) => x - r),
        p.map((x) => x + r),
      );
    }
  }
  const c = lesion.sac.centreMm;
  let reach = 1;
  while (sacReaches(order[0].body, c, reach)) reach++;
  points.push(
    c.map((x) => x - reach),
    c.map((x) => x + reach),
  );
  const low = [0, 1, 2].map((k) => Math.min(...points.map((p) => p[k])));
  const high = [0, 1, 2].map((k) => Math.max(...points.map((p) => p[k])));
  const origin = low.map((x, k) => x - (1 + shift) * spacing[k]) as [number, number, number];
  const sizes = high.map((x, k) => Math.ceil((x - origin[k]) / spacing[k]) + 2) as [number, number, number];
  const labels = new Uint8Array(sizes[0] * sizes[1] * sizes[2]);
  let at = 0;
  for (let k = 0; k < sizes[2]; k++)
    for (let j = 0; j < sizes[1]; j++)
      for (let i = 0; i < sizes[0]; i++, at++) {
        const p: [number, number, number] = [
          origin[0] + i * spacing[0],
          origin[1] + j * spacing[1],
          origin[2] + k * spacing[2],
        ];
        labels[at] = order.find(({ body }) => !body.isBeyond(p, 0) && body.value(p) < 0)?.label ?? 0;
      }
  return { sizes, spacing, origin, labels };
}

function sacReaches(body: Body, centre: readonly number[], reach: number): boolean {
  for (let i = 0; i < 400; i++) {
    const z = 1 - (2 * i + 1) / 400;
    const a = i * 2.399963;
    const r = Math.sqrt(1 - z * z);
    if (
      body.value([
        centre[0] + reach * r * Math.cos(a),
        centre[1] + reach * r * Math.sin(a),
        centre[2] + reach * z,
      ]) < 0
    )
      return true;
  }
  return false;
}

/** The volume as NIfTI-1 (nifti1.h, 2007): one file, sform, RAS, mm, one byte per voxel. */
export function niftiOf({ sizes, spacing, origin, labels }: LabelVolume): Uint8Array {
  const bytes = new Uint8Array(352 + labels.length);
  const view = new DataView(bytes.buffer);
  view.setInt32(0, 348, true);
  [3, ...sizes, 1, 1, 1, 1].forEach((n, i) => {
    view.setInt16(40 + 2 * i, n, true);
  });
  view.setInt16(70, 2, true);
  view.setInt16(72, 8, true);
  [1, ...spacing, 0, 0, 0, 0].forEach((n, i) => {
    view.setFloat32(76 + 4 * i, n, true);
  });
  view.setFloat32(108, 352, true);
  view.setFloat32(112, 1, true);
  view.setUint8(123, 2);
  view.setInt16(254, 1, true);
  const rows = [
    [-spacing[0], 0, 0, -origin[0]],
    [0, -spacing[1], 0, -origin[1]],
    [0, 0, spacing[2], origin[2]],
  ];
  rows.flat().forEach((n, i) => {
    view.setFloat32(280 + 4 * i, n, true);
  });
  bytes.set([0x6e, 0x2b, 0x31, 0], 344);
  bytes.set(labels, 352);
  return bytes;
}

/** The volume as NRRD with its voxels raw after the header. */
export function nrrdOf(
  { sizes, spacing, origin, labels }: LabelVolume,
  voxels: Uint8Array = labels,
  encoding = 'raw',
): Uint8Array {
  const header = [
    'NRRD0004',
    'type: uchar',
    'dimension: 3',
    `sizes: ${sizes.join(' ')}`,
    'space: left-posterior-superior',
    `space directions: (${spacing[0]},0,0) (0,${spacing[1]},0) (0,0,${spacing[2]})`,
    `space origin: (${origin.join(',')})`,
    `encoding: ${encoding}`,
    '',
    '',
  ].join('\n');
  const head = new TextEncoder().encode(header);
  const bytes = new Uint8Array(head.length + voxels.length);
  bytes.set(head);
  bytes.set(voxels, head.length);
  return bytes;
}
