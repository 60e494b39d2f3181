import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { draftCase, idFrom } from '../../src/case/draft-case.js';
import { type FileSchema, fileSchema } from '../../src/case/file-schema.js';
import { guessRole, structureNames } from '../../src/case/guess-role.js';
import { parseCase } from '../../src/case/parse-case.js';

describe('roles from file names', () => {
  it.each([
    ['meshes/feeder-1.stl', 'feeder'],
    ['Pulmonary_Artery.obj', 'feeder'],
    ['A2.stl', 'feeder'],
    ['draining vein.ply', 'drain'],
    ['V1.stl', 'drain'],
    ['sac.stl', 'sac'],
    ['Aneurysm.stl', 'sac'],
    ['branch-A9.stl', 'branch'],
    ['LeftBronchus.stl', 'airway'],
    ['bronchial artery.stl', 'systemic-feeder'],
    ['heart.glb', 'heart'],
    ['ribs.stl', 'chest-wall'],
    ['left-lower-lobe.stl', 'lobe'],
    ['mystery.stl', undefined],
    ['feeder/lesion.stl', undefined],
    ['tribe.stl', undefined],
  ])('%s -> %s', (path, role) => {
    expect(guessRole(path)).toBe(role);
  });

  it('names follow the numbers of the files where these differ', () => {
    const of = (...pairs: [Parameters<typeof structureNames>[0][0]['role'], string][]) =>
      structureNames(pairs.map(([role, mesh]) => ({ role, mesh })));
    expect(of(['feeder', 'feeder-2.stl'], ['feeder', 'feeder-3.stl'], ['drain', 'vein.stl'])).toEqual([
      'A2',
      'A3',
      'V1',
    ]);
    expect(
      of(['feeder', 'x-1.stl'], ['feeder', 'y-1.stl'], ['sac', 'sac.stl'], ['lobe', 'lobe.stl']),
    ).toEqual(['A1', 'A2', 'sac', 'lung-lobe']);
  });
});

describe('a drafted case', () => {
  it('has one part per mesh, with guesses marked', async () => {
    const text = draftCase({
      id: 'x',
      meshes: ['branch.stl', 'feeder-1.stl', 'odd.stl', 'sac.stl', 'vein.stl'],
    });
    const { case: read } = await parseCase(text, 'case.yaml');
    expect(read.surfaces?.parts?.map(({ name, role, of, mesh }) => [name, role, of, mesh.relative])).toEqual([
      ['B1', 'branch', 'A1', 'branch.stl'],
      ['A1', 'feeder', undefined, 'feeder-1.stl'],
      ['sac', 'sac', undefined, 'sac.stl'],
      ['V1', 'drain', undefined, 'vein.stl'],
    ]);
    expect(text.match(/role guessed from the file name: CHECK/g)).toHaveLength(4);
    expect(text).toContain('# - { name: NAME, role: ROLE, mesh: "odd.stl" }   # the file name says no role');
  });

  it('inserts a placeholder where no name indicates a feeder', async () => {
    for (const meshes of [
      ['sac.stl', 'vein.stl'],
      ['one.stl', 'two.stl'],
      ['one.stl', 'sac.stl'],
      ['branch.stl'],
    ]) {
      const text = draftCase({ id: 'x', meshes });
      const { case: read } = await parseCase(text, 'case.yaml');
      expect(read.surfaces?.parts?.filter(({ role }) => role === 'feeder')).toHaveLength(1);
      expect(text).toContain('CHECK: the role is a placeholder');
    }
  });

  it('is a whole surface for a single mesh without a role in its name', async () => {
    const { case: read } = await parseCase(draftCase({ id: 'x', meshes: ['lesion.stl'] }), 'case.yaml');
    expect(read.surfaces?.whole?.ends.map(({ name, role }) => [name, role])).toEqual([
      ['A1', 'feeder'],
      ['V1', 'drain'],
    ]);
  });

  it('accepts proposed ends', async () => {
    const proposedEnds = [
      { letter: 'a', at: [1.234, -5, 0] as const, calibreMm: 6.21 },
      { letter: 'b', at: [0, 0, 9] as const, calibreMm: 8 },
      { letter: 'c', at: [-0, 1, 1] as const, calibreMm: 2 },
    ];
    const text = draftCase({ id: 'x', meshes: ['lesion.stl'], proposedEnds });
    const { case: read } = await parseCase(text, 'case.yaml');
    expect(read.surfaces?.whole?.ends.map(({ name, role, at, of }) => [name, role, at, of])).toEqual([
      ['A1', 'feeder', [1.23, -5, 0], undefined],
      ['V1', 'drain', [0, 0, 9], undefined],
      ['B1', 'branch', [0, 1, 1], 'A1'],
    ]);
    expect(text).toContain('opening a, 6.2 mm wide; role is a placeholder: CHECK');
  });

  it('shows every key of the schema', () => {
    const text = `${draftCase({ id: 'x', meshes: ['feeder.stl', 'sac.stl'] })}${draftCase({ id: 'x', meshes: ['lesion.stl'] })}`;
    const missing: string[] = [];
    const walk = (schema: FileSchema): void => {
      for (const [key, below] of Object.entries(schema.properties ?? {})) {
        if (key !== 'labels' && !new RegExp(`\\b${key}\\b`).test(text)) missing.push(key);
        if (key !== 'labels') walk(below);
      }
      if (schema.items) walk(schema.items);
    };
    walk(fileSchema('case'));
    expect(missing).toEqual([]);
  });

  it('is still valid with every commented example uncommented', async () => {
    const text = draftCase({ id: 'x', meshes: ['feeder.stl', 'sac.stl', 'vein.stl'] })
      .split('\n')
      .map((line) =>
        /^# ( *[a-z0-9_]+:| +- )/.test(line) && !line.startsWith('# Case') ? line.slice(2) : line,
      )
      .join('\n');
    const { case: read, findings } = await parseCase(text, 'case.yaml');
    expect(read.gases[0].po2MmHg).toBe(210);
    expect(read.patient.spirometry.fev1L).toBe(2.9);
    expect(read.expected).toHaveLength(2);
    expect(findings.filter(({ level }) => level !== 'note')).toEqual([]);
  });

  it('is valid for any file names (seed 31)', async () => {
    const name = fc
      .string({ unit: fc.constantFrom(...'abAV19 _-.#"\'{}[],&*!%@äß'), minLength: 1, maxLength: 12 })
      .map((stem) => `x${stem}.stl`);
    const word = fc.constantFrom(
      'feeder-1.stl',
      'vein.stl',
      'branch 2.stl',
      'A1.stl',
      'lobe.stl',
      'lobe-2.stl',
    );
    await fc.assert(
      fc.asyncProperty(
        fc.uniqueArray(fc.oneof(name, word), { minLength: 1, maxLength: 8 }),
        async (meshes) => {
          await parseCase(draftCase({ id: 'x', meshes }), 'case.yaml');
        },
      ),
      { seed: 31, numRuns: 150 },
    );
  });
});

it('ids come from folder names', () => {
  expect(['Heron 2', 'Ärzte--Fall_7', '...', 'x'.repeat(90)].map(idFrom)).toEqual([
    'heron-2',
    'a-rzte-fall-7',
    'case-1',
    'x'.repeat(64),
  ]);
});
