/** The network over all lesions against a circuit simulator and against an independent nodal analysis. */
import { spawnSync } from 'node:child_process';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { describe, expect, it } from 'vitest';
import { closureTable } from '../../src/physiology/closure-table.js';
import { seededRandom } from '../../src/physiology/seeded-random.js';
import type { Shunt } from '../../src/result/result.generated.js';
import { closureCaseOf, RULES, vesselOf } from '../physiology/make.js';
import { nodeVoltages, type Resistor } from '../physiology/nodal-analysis.js';

const PHYSIOLOGICAL = 0.027;
const hasNgspice = spawnSync('ngspice', ['--version']).status === 0;
if (!hasNgspice)
  process.stderr.write(
    'skipped: ngspice is not installed, networks of several lesions are not held against it\n',
  );

/** 2 to 5 lesions of 1 to 3 feeders, straight tubes; part of the shunt elsewhere. */
function patientOf(seed: number) {
  const random = seededRandom(seed);
  const lesions = 2 + (seed % 4);
  const feeders = Array.from({ length: lesions }, (_, l) =>
    Array.from({ length: 1 + Math.floor(3 * random.uniform()) }, (_, f) => ({
      name: `lesion-${l + 1}/A${f + 1}`,
      calibreMm: 2 + 8 * random.uniform(),
      lengthMm: 20 + 60 * random.uniform(),
    })),
  ).flat();
  return {
    feeders,
    fraction: 0.1 + 0.4 * random.uniform(),
    remainder: seed % 2 ? 0.3 * random.uniform() : 0,
  };
}

/** PA is node 1, the left atrium ground; conductances of the feeders by Poiseuille's law, fitted to the shunt. */
function resistorsOf(
  { feeders, fraction, remainder }: ReturnType<typeof patientOf>,
  closed: readonly string[],
) {
  const raw = feeders.map(({ calibreMm, lengthMm }) => calibreMm ** 4 / lengthMm);
  const sum = raw.reduce((a, b) => a + b, 0);
  const total = 0.75;
  const of = (conductance: number): Resistor => ({ from: 1, to: 0, resistance: 1 / conductance });
  const shunt = feeders.flatMap(({ name }, i) =>
    closed.includes(name) ? [] : [of(((1 - remainder) * fraction * total * raw[i]) / sum)],
  );
  if (remainder > 0) shunt.push(of(remainder * fraction * total));
  return { shunt, bed: of((1 - fraction) * total) };
}

const left = ({ shunt, bed }: ReturnType<typeof resistorsOf>, pressure: number): number => {
  const flow = shunt.reduce((sum, { resistance }) => sum + pressure / resistance, 0);
  return flow / (flow + pressure / bed.resistance);
};

function rowsOf(patient: ReturnType<typeof patientOf>, sets: string[][]) {
  const shunt: Shunt = {
    fraction: patient.fraction,
    interval: [patient.fraction - 0.03, patient.fraction + 0.03],
    method: 'content',
    sample: 'on-oxygen',
    barometric_mmhg: 760,
    av_difference_ml_dl: 5,
    assumed: [],
  };
  return closureTable({
    vessels: patient.feeders.map(({ name, calibreMm, lengthMm }) => vesselOf(name, lengthMm, calibreMm)),
    shunt,
    case: closureCaseOf(),
    rules: RULES,
    patient: { remainder: patient.remainder },
    sets,
  });
}

const setsOf = ({ feeders }: ReturnType<typeof patientOf>): string[][] => {
  const names = feeders.map(({ name }) => name);
  const lesions = [...new Set(names.map((name) => name.split('/')[0]))];
  return [
    [names[0]],
    names.slice(0, 2),
    ...lesions.map((lesion) => names.filter((name) => name.startsWith(`${lesion}/`))),
    names,
  ];
};

const SEEDS = [1, 2, 3, 4, 5, 6, 7, 8];

describe('closing any feeders of 2 to 5 lesions', () => {
  it.each(SEEDS)('leaves what nodal analysis gives (seed %i); shares add up to 1', (seed) => {
    const patient = patientOf(seed);
    const sets = setsOf(patient);
    const { rows, shares } = rowsOf(patient, sets);
    expect(shares.shares.reduce((sum, { poiseuille }) => sum + poiseuille, 0)).toBeCloseTo(1, 12);
    expect(shares.shares.reduce((sum, { murray }) => sum + murray, 0)).toBeCloseTo(1, 12);
    rows.forEach((row, i) => {
      const parts = resistorsOf(patient, sets[i]);
      const [, pressure] = nodeVoltages(2, [...parts.shunt, parts.bed], 6);
      expect(row.shunt_fraction).toBeCloseTo(Math.max(PHYSIOLOGICAL, left(parts, pressure)), 4);
    });
  });

  it('closing everything leaves exactly the remainder and the physiological shunt', () => {
    for (const seed of SEEDS) {
      const patient = patientOf(seed);
      const all = rowsOf(patient, [patient.feeders.map(({ name }) => name)]).rows[0];
      const { fraction: f, remainder: r } = patient;
      const rest = (f * r) / (f * r + 1 - f);
      expect(all.shunt_fraction).toBeCloseTo(Math.max(PHYSIOLOGICAL, rest), 4);
      expect(all.intervals!.shunt_fraction![0]).toBeLessThanOrEqual(all.shunt_fraction!);
    }
  });

  it.skipIf(!hasNgspice).each(SEEDS.slice(0, 4))(
    'leaves what ngspice gives (seed %i; skipped without ngspice)',
    (seed) => {
      const patient = patientOf(seed);
      const sets = setsOf(patient);
      const { rows } = rowsOf(patient, sets);
      const folder = mkdtempSync(join(tmpdir(), 'patient-network-'));
      try {
        rows.forEach((row, i) => {
          const parts = resistorsOf(patient, sets[i]);
          const file = join(folder, `${i}.cir`);
          const all = [...parts.shunt, parts.bed];
          writeFileSync(
            file,
            [
              'lungs',
              'I1 0 1 DC 6',
              ...all.map((one, k) => `R${k + 1} ${one.from} ${one.to} ${one.resistance}`),
              '.control',
              'set numdgt=12',
              'op',
              'print v(1)',
              'quit',
              '.endc',
              '.end',
              '',
            ].join('\n'),
          );
          const { stdout } = spawnSync('ngspice', ['-b', file], { encoding: 'utf8', timeout: 20000 });
          const pressure = Number(/v\(1\) = (\S+)/.exec(stdout)?.[1]);
          expect(row.shunt_fraction).toBeCloseTo(Math.max(PHYSIOLOGICAL, left(parts, pressure)), 4);
        });
      } finally {
        rmSync(folder, { recursive: true, force: true });
      }
    },
  );
});
