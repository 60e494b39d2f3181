import { describe, expect, it } from 'vitest';
import { parseCase } from '../../src/case/parse-case.js';
import { problemsOf } from './problems-of.js';

const HEAD = 'format: pavm-case/1\nid: x\npurpose: demo\n';

/** The only problem of a text, without its place. */
async function problemOf(body: string): Promise<string> {
  const { problems, exitCode } = await problemsOf(`${HEAD}${body}\n`);
  expect(exitCode).toBe(2);
  expect(problems).toHaveLength(1);
  return problems[0].replace(/^case\.yaml:\d+:\d+ /, '');
}

const findingsOf = async (body: string): Promise<string[]> =>
  (await parseCase(`${HEAD}${body}\n`, 'case.yaml')).findings.map(({ id, where }) => `${id} ${where}`);

const caseOf = async (body: string) => (await parseCase(`${HEAD}${body}\n`, 'case.yaml')).case;

describe('extent and segments of plan B', () => {
  it.each([
    ['surgery: { extent: segments }', 'surgery.extent: is segments, but none are named.'],
    ['surgery: { segments: [S8] }', 'surgery.segments: is given beside no extent.'],
    ['surgery: { extent: lobe, segments: [S8] }', 'surgery.segments: is given beside the extent lobe.'],
    ['surgery: { extent: lob }', 'surgery.extent: "lob" is not known here. Did you mean "lobe"?'],
    [
      'lesion: { side: right }\nsurgery: { extent: segments, segments: [S1+2] }',
      'surgery.segments[0]: S1+2 is not a segment of the right lung.',
    ],
    [
      'lesion: { side: right }\nsurgery: { obstructed_segments: [S6, S7+8] }',
      'surgery.obstructed_segments[1]: S7+8 is not a segment of the right lung.',
    ],
    ['surgery: { obstructed_segments: [S11] }', 'surgery.obstructed_segments[0]: "S11" is not known here.'],
    [
      'surgery: { obstructed_segments: [S6, S6] }',
      'surgery.obstructed_segments[1]: "S6" appears twice in this list.',
    ],
  ])('%s', async (body, problem) => {
    expect(await problemOf(body)).toContain(problem);
  });

  it('accepts segments of two lobes of one side, a wedge without segments, and the combined ones on the left', async () => {
    const two = await caseOf(
      'lesion: { side: right }\nsurgery: { extent: segments, segments: [S4, S5, S8] }',
    );
    expect(two.surgery.segments).toEqual(['S4', 'S5', 'S8']);
    expect((await caseOf('surgery: { extent: wedge }')).surgery).toMatchObject({ extent: 'wedge' });
    const left = await caseOf('lesion: { side: left }\nsurgery: { extent: wedge, segments: [S1+2, S7+8] }');
    expect(left.surgery.segments).toEqual(['S1+2', 'S7+8']);
  });
});

describe('whom to call', () => {
  it('is kept as written, including the hospital’s numbers and roles', async () => {
    const { team } = await caseOf('team: { surgeon: 0045, ward sister: "+0 12", blood_bank: B-1 }');
    expect(team).toEqual([
      { role: 'surgeon', contact: '0045' },
      { role: 'ward sister', contact: '+0 12' },
      { role: 'blood_bank', contact: 'B-1' },
    ]);
  });

  it.each([
    ['team: { surgeon: }', 'team.surgeon: is empty.'],
    ['team: { surgeon: yes, x: true }', 'team.x: "true" is read as a number or yes/no. Put it in quotes'],
    ['team: { surgeon: [a] }', 'team.surgeon: a list is given where a text is needed.'],
    ['team: { "a|b": c }', 'the role "a|b" is not allowed here.'],
    ['team: { surgeon: "a\\u202eb" }', 'invisible character'],
    ['team: surgeon', 'team: "surgeon" is given where keys with values are needed.'],
    [`team: { surgeon: ${'x'.repeat(201)} }`, 'is longer than 200 characters'],
    [
      `team: { ${Array.from({ length: 31 }, (_, i) => `r${i}: x`).join(', ')} }`,
      'team: has 31 entries; at most 30 are read.',
    ],
  ])('%s', async (body, problem) => {
    expect(await problemOf(body)).toContain(problem);
  });
});

describe('a bleed', () => {
  it('is read, with whatever is omitted left out', async () => {
    const { bleeding } = await caseOf('bleeding: { now: true, into: chest }');
    expect(bleeding).toEqual({
      now: 'yes',
      within24h: undefined,
      stable: undefined,
      into: 'chest',
      on: undefined,
    });
    expect((await caseOf('')).bleeding).toBeUndefined();
  });

  it.each([
    ['bleeding: yes', 'bleeding: "yes" is given where keys with values are needed.'],
    ['bleeding: { now: maybe }', 'bleeding.now: "maybe" is not known here. Accepted: yes, no, unknown.'],
    [
      'bleeding: { into: thorax }',
      'bleeding.into: "thorax" is not known here. Accepted: airway, chest, both, unknown.',
    ],
    ['bleeding: { on: 2026-02-30 }', 'bleeding.on: "2026-02-30" has no such day'],
    ['bleeding: { within_24h: yes }', 'the key "within_24h" is not known here. Did you mean "within_24_h"?'],
  ])('%s', async (body, problem) => {
    expect(await problemOf(body)).toContain(problem);
  });
});

describe('anticoagulant and pregnancy', () => {
  it('an agent alone counts as anticoagulated', async () => {
    const { patient } = await caseOf('patient: { anticoagulant: { agent: apixaban } }');
    expect(patient.anticoagulated).toBe('yes');
    expect((await caseOf('')).patient.anticoagulated).toBeUndefined();
  });

  it.each([
    ['2026-03-14', undefined],
    ['2026-03-14 23:59', undefined],
    ['2026-03-14T07:30', undefined],
    ['2026-03-14 24:00', 'is not a date with a time of day.'],
    ['2026-03-14 7:30', 'is not a date with a time of day.'],
    ['2026-03-14 07:30 am', 'is not a date with a time of day.'],
    ['2026-02-29 07:30', 'has no such day'],
    ['yesterday', 'is not an ISO date.'],
  ])('last dose %s', async (written, problem) => {
    const body = `patient: { anticoagulant: { last_dose: ${written} } }`;
    if (problem !== undefined) expect(await problemOf(body)).toContain(problem);
    else expect((await caseOf(body)).patient.anticoagulant?.lastDose).toBe(written);
  });

  it('reports contradictions', async () => {
    const ids = await findingsOf(
      'patient: { anticoagulated: no, anticoagulant: { agent: warfarin }, pregnant: no, gestation: 20 wk }',
    );
    expect(ids).toContain('anticoagulant-contradicts patient.anticoagulant');
    expect(ids).toContain('gestation-not-pregnant patient.gestation');
    const fit = await findingsOf(
      'patient: { anticoagulated: yes, anticoagulant: { agent: warfarin }, pregnant: yes, gestation: 140 d }',
    );
    expect(fit.filter((id) => !id.startsWith('not-used-yet'))).toEqual([]);
  });

  it('reads the same values in other units', async () => {
    const { patient, surfaces, planned } = await caseOf(
      'patient: { gestation: 140 d, creatinine: 0.84 mg/dL, heart_rate: 72 bpm }\n' +
        'surfaces: { unit: mm, mend: 0.03 cm, drop_below: 0.01 mL, parts: [{ name: A1, role: feeder, mesh: a.stl }] }\n' +
        'planned: { session: { contrast_limit: 0.25 L, gap: 4 weeks } }',
    );
    expect(patient).toMatchObject({ gestationWeeks: 20, heartRatePerMin: 72 });
    expect(patient.creatinineUmolL).toBeCloseTo(74.256, 6);
    expect(surfaces).toMatchObject({ mendMm: 0.3, dropBelowMm3: 10 });
    expect(planned.session).toMatchObject({ contrastLimitMl: 250, gapDays: 28 });
  });
});

describe('two sacs in one case', () => {
  const part = (name: string, role: string): string =>
    `    - { name: ${name}, role: ${role}, mesh: ${name}.stl }\n`;
  const surfaces = (...sacs: string[]): string =>
    `surfaces:\n  unit: mm\n  frame: LPS\n  parts:\n${part('A1', 'feeder')}${part('V1', 'drain')}${sacs.map((name) => part(name, 'sac')).join('')}`;

  it('is a stop that names them; a single one is not', async () => {
    expect(await findingsOf(surfaces('sac'))).toEqual([]);
    const { findings } = await parseCase(`${HEAD}${surfaces('sac', 'sac-2')}`, 'case.yaml');
    expect(findings).toMatchObject([{ id: 'several-sacs', level: 'stop', where: 'surfaces.parts' }]);
    expect(findings[0].text).toContain('sac, sac-2: 2 structures have the role sac');
  });
});

describe('fields that nothing uses yet', () => {
  it('are named in one note', async () => {
    const { findings } = await parseCase(`${HEAD}patient: { heart_rate: 72 /min }\n`, 'case.yaml');
    const notes = findings.filter(({ id }) => id === 'not-used-yet');
    expect(notes).toHaveLength(1);
    expect(notes[0].text).toContain('uses it yet: patient.heart_rate. ');
  });

  it('give no note where the case contains none', async () => {
    expect(await findingsOf('blood: { haemoglobin: 14 g/dL }')).not.toContain('not-used-yet case');
  });
});
