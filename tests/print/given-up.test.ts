import { describe, expect, it } from 'vitest';
import { WorkBudget, WorkSpent } from '../../src/foundation/work-budget.js';
import { WindingField } from '../../src/mesh/winding-field.js';
import { randomLesion } from '../../src/phantoms/random-lesion.js';
import { preparePrint } from '../../src/print/prepare-print.js';
import { PrintGivenUp } from '../../src/print/print-given-up.js';
import { printSection } from '../../src/report/print-readiness.js';
import { cylinder } from '../mesh/shapes.js';
import { inputOf } from './make.js';

describe('a print that takes more than a fixed amount of work', () => {
  const input = inputOf(randomLesion(3));

  it('is given up at the same point each time, with a stop and what was found so far', async () => {
    const tried = async (steps: number): Promise<PrintGivenUp> => {
      const error = await preparePrint(input, steps).catch((thrown: unknown) => thrown);
      expect(error).toBeInstanceOf(PrintGivenUp);
      return error as PrintGivenUp;
    };
    const mending = await tried(1000);
    expect(mending.because).toMatch(
      /^making the printable model was given up after a fixed amount of work, while mending \w+$/,
    );
    expect(mending.findings.at(-1)).toMatchObject({ level: 'stop', id: 'print-given-up', where: 'print' });
    const later = await tried(400_000);
    expect(later.because).not.toBe(mending.because);
    expect((await tried(400_000)).findings).toEqual(later.findings);
  });

  it('is not given up within the work allowed for every export', async () => {
    expect((await preparePrint(input)).parts[0].role).toBe('model');
  });

  it('a field that runs out of work within the kernel ends there, not in the kernel', async () => {
    const { Workshop } = await import('../../src/print/workshop.js');
    const work = new WorkBudget(2000);
    const workshop = await Workshop.open(work);
    let asked = 0;
    const field = (): number => {
      asked++;
      work.spend(1);
      return -1;
    };
    const box = { min: [0, 0, 0] as [number, number, number], max: [50, 50, 50] as [number, number, number] };
    expect(() => workshop.levelSet(field, box, 1)).toThrow(WorkSpent);
    expect(asked).toBe(2001);
    workshop.close();
  });

  it('queries cost more where triangles cross each other than on a tube with the same number', () => {
    const tube = cylinder(16, 10, 5, 40);
    const count = tube.triangles.length / 3;
    const crossed = Float64Array.from({ length: 9 * count }, (_, i) => Math.sin(1 + 7.3 * i) * 20);
    const corners = Uint32Array.from({ length: 3 * count }, (_, i) => i);
    const work = new WorkBudget(1e9);
    const even = new WindingField(tube, work).questionSteps;
    const crowded = new WindingField({ positions: crossed, triangles: corners }, work).questionSteps;
    expect(even).toBeLessThan(12);
    expect(crowded).toBeGreaterThan(5 * even);
  });

  it('is in the plan with its reason', () => {
    const cite = { marked: (text: string) => text };
    const lines = printSection(
      { print_absent_because: 'making it was given up' } as Parameters<typeof printSection>[0],
      cite as Parameters<typeof printSection>[1],
    );
    expect(lines.join('\n')).toContain('**None**: making it was given up.');
  });
});
