import { expect, it } from 'vitest';
import { lineCurve } from '../../src/phantoms/curve.js';
import { sacMesh } from '../../src/phantoms/sac.js';
import { roundTube, sweptTube } from '../../src/phantoms/tube.js';
import type { PrintPackage } from '../../src/print/assemble-package.js';
import { preparePrint } from '../../src/print/prepare-print.js';
import { numberOf } from '../../src/rules/rule.js';
import type { Vec3 } from '../../src/foundation/vector.js';
import { bareInput, rules, straightVessel } from './make.js';

const tube = (from: Vec3, to: Vec3, calibreMm: number) =>
  sweptTube(
    roundTube(lineCurve(from, to), () => calibreMm),
    { around: 24, stepMm: 1 },
  );
const said = ({ findings }: PrintPackage, id: string): string[] =>
  findings.filter((one) => one.id === id).map(({ level, where, text }) => `${level} ${where}: ${text}`);

it('a cut across both arms of a U leaves one half in two pieces', async () => {
  const parts = [
    { name: 'A1', role: 'feeder' as const, mesh: tube([0, 0, 0], [40, 0, 0], 8) },
    { name: 'A2', role: 'feeder' as const, mesh: tube([0, 24, 0], [40, 24, 0], 8) },
    { name: 'sac', role: 'sac' as const, mesh: tube([0, -6, 0], [0, 30, 0], 12) },
  ];
  const vessels = [straightVessel('A1', [0, 0, 0], 40, 8), straightVessel('A2', [0, 24, 0], 40, 8)];
  const cut = { by: 'plane' as const, pointMm: [20, 0, 0] as Vec3, normal: [1, 0, 0] as Vec3 };
  const pack = await preparePrint(
    bareInput(parts, { vessels, neighbours: [] }, { cut, process: 'material-jetting' }),
  );
  const pieces = said(pack, 'print-cut-pieces');
  expect(pieces).toHaveLength(1);
  expect(pieces[0]).toMatch(/^caution half-[AB]: It comes in 2 pieces/);
}, 60_000);

it('a structure beyond the longest rod stays separate and is named; one within reach is held', async () => {
  const longest = numberOf(rules, 'print-strut-longest');
  const packOf = (gapMm: number) => {
    const heart = sacMesh(
      { centreMm: [20, 3 + gapMm + 8, 0], semiAxesMm: [8, 8, 8], rotation: [1, 0, 0, 0], lobes: [] },
      12,
    );
    const parts = [
      { name: 'A1', role: 'feeder' as const, mesh: tube([0, 0, 0], [40, 0, 0], 6) },
      { name: 'heart', role: 'heart' as const, mesh: heart },
    ];
    const lesion = { vessels: [straightVessel('A1', [0, 0, 0], 40, 6)], neighbours: [] };
    return preparePrint(bareInput(parts, lesion, { struts: 'yes', process: 'material-extrusion' }));
  };
  const [near, far] = [await packOf(10), await packOf(longest + 5)];
  expect(said(near, 'print-strut-absent')).toEqual([]);
  expect(said(near, 'print-strut')[0]).toMatch(/^caution heart: /);
  expect(said(far, 'print-strut')).toEqual([]);
  expect(said(far, 'print-strut-absent')[0]).toContain(`caution heart: No rod of up to ${longest} mm`);
}, 60_000);
