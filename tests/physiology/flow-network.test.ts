import { spawnSync } from 'node:child_process';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { closeFeeders, fittedNetwork } from '../../src/physiology/closure-state.js';
import { type FlowNetwork, shuntAfterClosing, solveFlowNetwork } from '../../src/physiology/flow-network.js';
import { seededRandom } from '../../src/physiology/seeded-random.js';
import { nodeVoltages, type Resistor } from './nodal-analysis.js';

const SEEDS = [1, 2, 3, 4, 5, 6, 7, 8, 9, 10];

/** 1 to 6 feeders, resistances over two decades, with sac and drains in series. */
function randomNetwork(seed: number): { network: FlowNetwork; totalFlow: number } {
  const random = seededRandom(seed);
  const decade = () => 10 ** (2 * random.uniform() - 1);
  const feeders = Array.from({ length: 1 + Math.floor(6 * random.uniform()) }, (_, i) => ({
    name: `A${i + 1}`,
    conductance: decade(),
  }));
  const network = { feeders, seriesResistance: 0.2 * decade(), normalBedConductance: decade() };
  return { network, totalFlow: 3 + 5 * random.uniform() };
}

/** PA is node 1, the sac node 2, the left atrium ground. */
function resistorsOf(network: FlowNetwork): Resistor[] {
  return [
    ...network.feeders.map((f) => ({ from: 1, to: 2, resistance: 1 / f.conductance })),
    { from: 2, to: 0, resistance: network.seriesResistance },
    { from: 1, to: 0, resistance: 1 / network.normalBedConductance },
  ];
}

function expectSame(value: number, other: number, relative: number): void {
  expect(Math.abs(value - other)).toBeLessThanOrEqual(relative * Math.abs(other));
}

describe('flow network against an independent nodal analysis', () => {
  it.each(SEEDS)('seed %i', (seed) => {
    const { network, totalFlow } = randomNetwork(seed);
    const flows = solveFlowNetwork(network, { totalFlow });
    const [, pa, sac] = nodeVoltages(3, resistorsOf(network), totalFlow);
    expectSame(flows.drivingPressure, pa, 1e-9);
    expectSame(flows.sacPressure, sac, 1e-9);
    for (const { name, conductance } of network.feeders) {
      expectSame(flows.feederFlows[name], (pa - sac) * conductance, 1e-9);
    }
    expectSame(flows.normalFlow, pa * network.normalBedConductance, 1e-9);
  });

  it('the reference solver itself gives a textbook divider: 10 V over 1 and 3 ohm', () => {
    const resistors = [
      { from: 1, to: 2, resistance: 1 },
      { from: 2, to: 0, resistance: 3 },
    ];
    const voltages = nodeVoltages(3, resistors, 2.5);
    for (const [node, volt] of [0, 10, 7.5].entries()) expect(voltages[node]).toBeCloseTo(volt, 12);
  });
});

const ngspice = spawnSync('ngspice', ['--version'], { encoding: 'utf8' });
const hasNgspice = ngspice.status === 0;
if (!hasNgspice) {
  process.stderr.write(
    'SKIPPED: ngspice is not on the PATH; the flow network was not checked against it (Debian: ngspice)\n',
  );
}

describe.skipIf(!hasNgspice)('flow network against the circuit simulator ngspice', () => {
  it.each(SEEDS)('seed %i', (seed) => {
    const { network, totalFlow } = randomNetwork(seed);
    const flows = solveFlowNetwork(network, { totalFlow });
    const deck = [
      'lungs',
      `I1 0 1 DC ${totalFlow}`,
      ...resistorsOf(network).map((r, i) => `R${i + 1} ${r.from} ${r.to} ${r.resistance}`),
      '.control',
      'set numdgt=12',
      'op',
      'print v(1) v(2)',
      'quit',
      '.endc',
      '.end',
      '',
    ].join('\n');
    const folder = mkdtempSync(join(tmpdir(), 'network-'));
    const file = join(folder, 'lungs.cir');
    try {
      writeFileSync(file, deck);
      const { stdout } = spawnSync('ngspice', ['-b', file], { encoding: 'utf8', timeout: 20000 });
      const voltage = (node: number) => Number(new RegExp(`v\\(${node}\\) = (\\S+)`).exec(stdout)?.[1]);
      expectSame(flows.drivingPressure, voltage(1), 1e-6);
      expectSame(flows.sacPressure, voltage(2), 1e-6);
    } finally {
      rmSync(folder, { recursive: true, force: true });
    }
  });
});

describe('properties of the network (seed 1926)', () => {
  const settings = { seed: 1926, numRuns: 300 };
  const positive = fc.double({ min: 0.01, max: 100, noNaN: true });

  it('flows add up: feeders to the shunt, shunt and normal bed to the output', () => {
    fc.assert(
      fc.property(
        fc.array(positive, { minLength: 1, maxLength: 8 }),
        positive,
        positive,
        (g, series, bed) => {
          const feeders = g.map((conductance, i) => ({ name: `A${i}`, conductance }));
          const flows = solveFlowNetwork(
            { feeders, seriesResistance: series, normalBedConductance: bed },
            { totalFlow: 5 },
          );
          const sum = Object.values(flows.feederFlows).reduce((a, b) => a + b, 0);
          expectSame(sum, flows.shuntFlow, 1e-9);
          expectSame(flows.shuntFlow + flows.normalFlow, 5, 1e-9);
        },
      ),
      settings,
    );
  });

  it('a fitted network carries the measured shunt at the measured pressures', () => {
    const shares = [
      { name: 'A1', share: 0.8 },
      { name: 'A2', share: 0.2 },
    ];
    const circulation = { cardiacOutputLMin: 6, meanPaMmHg: 18, wedgeMmHg: 9 };
    const network = fittedNetwork(shares, 0.3, circulation);
    const now = solveFlowNetwork(network, { totalFlow: 6 });
    expectSame(now.shuntFraction, 0.3, 1e-12);
    expectSame(now.drivingPressure, 9, 1e-12);
    expectSame(now.feederFlows.A1, 1.44, 1e-12);
  });

  it('closing gives f(1 - w)/(1 - f w), whether output or pressure is held', () => {
    const fraction = fc.double({ min: 0.01, max: 0.9, noNaN: true });
    fc.assert(
      fc.property(fraction, fc.double({ min: 0, max: 1, noNaN: true }), (f, share) => {
        const shares = [
          { name: 'A1', share },
          { name: 'A2', share: 1 - share },
        ];
        const closed = closeFeeders(
          fittedNetwork(shares, f, { cardiacOutputLMin: 5, meanPaMmHg: 14, wedgeMmHg: 8 }),
          ['A1'],
          1,
        );
        const byOutput = solveFlowNetwork(closed, { totalFlow: 5 });
        const byPressure = solveFlowNetwork(closed, { drivingPressure: 6 });
        expect(byOutput.shuntFraction).toBeCloseTo(shuntAfterClosing(f, share), 9);
        expect(byPressure.shuntFraction).toBeCloseTo(shuntAfterClosing(f, share), 9);
        expect(byOutput.drivingPressure).toBeCloseTo(6 / (1 - f * share), 6);
        expect(byPressure.totalFlow).toBeCloseTo(5 * (1 - f * share), 9);
      }),
      settings,
    );
  });

  it('refuses impossible inputs', () => {
    const none = { feeders: [], seriesResistance: 0, normalBedConductance: 0 };
    expect(() => solveFlowNetwork(none, { totalFlow: 5 })).toThrow('conducts');
    expect(() => solveFlowNetwork({ ...none, normalBedConductance: -1 }, { totalFlow: 5 })).toThrow(
      'negative',
    );
  });
});
