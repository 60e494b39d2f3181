import { readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { parseCase } from '../../src/case/parse-case.js';
import { problemsOf } from './problems-of.js';

const FULL = readFileSync(new URL('../fixtures/cases/full.yaml', import.meta.url), 'utf8');
const HEAD = 'format: pavm-case/1\nid: x\npurpose: demo\n';

/** Ids of the findings on a text that is a valid case. */
async function findingsOf(text: string): Promise<string[]> {
  const { findings } = await parseCase(text, 'case.yaml');
  return findings.map(({ id, where }) => `${id} ${where}`);
}

describe('a case with every key', () => {
  it('is read completely, in the units that the keys state', async () => {
    const { case: read, findings } = await parseCase(FULL, 'case.yaml', { folder: '/data/heron' });
    expect(findings.filter(({ id }) => id !== 'not-used-yet')).toEqual([]);
    expect(read).toMatchObject({
      id: 'heron',
      title: 'Two-feeder lesion of the lingula',
      purpose: 'demo',
      scan: {
        date: '2026-03-14',
        sliceThicknessMm: 0.8,
        inPlaneMm: 0.7,
        series: { relative: 'ct', absolute: '/data/heron/ct' },
        seriesNumber: 4,
      },
      patient: {
        ageYears: 46,
        sex: 'female',
        weightKg: 62,
        heightCm: 168,
        pregnant: 'yes',
        gestationWeeks: 20,
        hht: {
          epistaxis: 'yes',
          telangiectasia: 'no',
          visceralLesion: 'yes',
          firstDegreeRelative: 'unknown',
        },
        allergies: ['nickel', 'iodinated-contrast', 'latex'],
        anticoagulated: 'yes',
        anticoagulant: { agent: 'warfarin', dose: '5 mg once a day', lastDose: '2026-03-14 07:30' },
        bloodGroup: '0 pos',
        oximetry: { lyingFraction: 0.91, standingFraction: 0.84 },
        heartRatePerMin: 72,
        creatinineUmolL: 74,
        egfrMlMin173: 90,
        spirometry: { fev1L: 2.9, fev1Percent: 88, dlcoPercent: 74 },
      },
      blood: {
        haemoglobinGDl: 19.8,
        haematocritFraction: 0.58,
        ferritinUgL: 12,
        transferrinSaturationFraction: 0.14,
      },
      circulation: {
        cardiacOutputLMin: 6.4,
        meanPaPressureMmHg: 18,
        wedgePressureMmHg: 9,
        oxygenUptakeMlMin: 240,
        cardiacOutputMethod: 'thermodilution',
        oxygenUptakeMethod: 'measured',
      },
      lesion: { side: 'left', lobe: 'lower', segments: ['S9', 'S10'], otherLesions: 'unknown' },
      shelf: { relative: '../shelf.yaml', absolute: '/data/shelf.yaml' },
      planned: {
        date: '2026-04-02',
        approach: 'auto',
        session: { contrastLimitMl: 250, oneLung: true, mostFeeders: 4, gapDays: 28 },
      },
      surgery: {
        oneLungVentilation: 'yes',
        leakTest: { cmH2O: 30, asWritten: '30 cmH2O' },
        extent: 'segments',
        segments: ['S8'],
        obstructedSegments: ['S9'],
      },
      bleeding: { now: 'no', within24h: 'no', stable: 'unknown', into: 'unknown', on: '2026-03-18' },
      team: [
        { role: 'interventionist', contact: '0100' },
        { role: 'surgeon', contact: 'on call 0101' },
        { role: 'anaesthesia', contact: '0102' },
        { role: 'blood_bank', contact: '0103' },
        { role: 'obstetrics', contact: '0104' },
        { role: 'hyperbaric_centre', contact: '0105' },
        { role: 'ward', contact: 'ward 7' },
      ],
      atHand: {
        catheter: 'yes',
        snare: 'yes',
        balloon: 'no',
        blood: 'yes',
        clamps: 'yes',
        sutures: 'yes',
        stapler: 'unknown',
        print: 'no',
      },
      print: {
        scale: 1,
        process: 'material-extrusion',
        wallMm: 1.2,
        hollow: false,
        cut: { by: 'axis', axis: 'left', atMm: 12 },
        struts: 'auto',
        buildVolumeMm: [200, 200, 180],
        buildUp: 'superior',
      },
    });
    expect(read.patient.history).toHaveLength(14);
    expect(read.gases).toEqual([
      {
        name: 'on-oxygen',
        when: 'before',
        on: '2026-03-12',
        fio2: 1,
        minutesOnOxygen: 20,
        site: 'arterial',
        po2MmHg: 210,
        pco2MmHg: 34,
        ph: 7.42,
        so2Fraction: 0.985,
        temperatureC: 37,
        altitudeM: 540,
        barometricMmHg: undefined,
        path: 'gases[0]',
      },
    ]);
    expect(read.surfaces?.parts?.map(({ name, role, of, spare }) => [name, role, of, spare])).toEqual([
      ['A1', 'feeder', undefined, false],
      ['A2', 'feeder', undefined, false],
      ['sac', 'sac', undefined, false],
      ['V1', 'drain', undefined, false],
      ['B1', 'branch', 'A1', true],
      ['bronchus', 'airway', undefined, false],
    ]);
    expect(read.surfaces?.parts?.[0]).toMatchObject({
      mesh: { relative: 'meshes/feeder-1.stl', absolute: '/data/heron/meshes/feeder-1.stl' },
      arisesFrom: 'A9 of the left lower lobe',
    });
    expect(read.surfaces).toMatchObject({
      unit: 'mm',
      unitMm: 1,
      frame: 'LPS',
      mendMm: 0.3,
      dropBelowMm3: 10,
    });
    expect(
      read.expected.map(({ value, finding, equals, within, present }) => [
        value,
        finding,
        equals,
        within,
        present,
      ]),
    ).toEqual([
      ['shunt.fraction', undefined, 0.31, 0.02, undefined],
      ['vessels.A1.landing.calibre_mm', undefined, 6, 0.3, undefined],
      ['devices.A1.kind', undefined, 'vascular-plug', undefined, undefined],
      [undefined, 'open-surface', undefined, undefined, false],
    ]);
    expect(read.locate('gases[0].po2')).toBe('case.yaml:37:10');
    expect(read.locate('gases[0].nothing')).toBe('case.yaml:31:5');
  });

  it('reads the same values in other units', async () => {
    const other = FULL.replace('210 mmHg', '28 kPa')
      .replace('19.8 g/dL', '198 g/L')
      .replace('168 cm', '1.68 m')
      .replace('fio2: 1.0', 'fio2: 100 %')
      .replace('minutes_on_oxygen: 20', 'minutes_on_oxygen: 20 min')
      .replace('unit: mm', 'unit: inch');
    const { case: read } = await parseCase(other, 'case.yaml');
    expect(read.gases[0].po2MmHg).toBeCloseTo(210.0172, 4);
    expect(read.gases[0]).toMatchObject({ fio2: 1, minutesOnOxygen: 20 });
    expect(read.blood.haemoglobinGDl).toBe(19.8);
    expect(read.patient.heightCm).toBe(168);
    expect(read.surfaces?.unitMm).toBe(25.4);
  });

  it('accepts true and false for yes and no', async () => {
    const { case: read } = await parseCase(
      `${HEAD}patient: { pregnant: true, anticoagulated: false }\nprint: { hollow: true }\n`,
      'c',
    );
    expect(read.patient).toMatchObject({ pregnant: 'yes', anticoagulated: 'no' });
    expect(read.print.hollow).toBe(true);
  });
});

describe('a case with two keys', () => {
  it('is enough, with defaults that are reported', async () => {
    const { case: read, findings } = await parseCase('format: pavm-case/1\nid: x\n', 'case.yaml');
    expect(read).toMatchObject({
      purpose: 'clinical',
      gases: [],
      expected: [],
      print: { scale: 1, hollow: false },
    });
    expect(read.surfaces).toBeUndefined();
    expect(read.patient.allergies).toBeUndefined();
    expect(findings.map(({ id }) => id)).toEqual(['purpose-assumed']);
  });

  it('distinguishes no allergies from allergies not asked about', async () => {
    const { case: read } = await parseCase(`${HEAD}patient: { allergies: [] }\n`, 'case.yaml');
    expect(read.patient.allergies).toEqual([]);
  });

  it('names samples and reports assumptions', async () => {
    const text = `${HEAD}gases:\n  - { po2: 90 mmHg }\n`;
    const { case: read } = await parseCase(text, 'case.yaml');
    expect(read.gases[0]).toMatchObject({
      name: 'sample-1',
      when: 'before',
      site: 'arterial',
      fio2: undefined,
    });
    expect(await findingsOf(text)).toEqual(['sample-when-assumed gases[0]', 'sample-site-assumed gases[0]']);
  });
});

describe('errors, each at its place and each once', () => {
  it('are all reported in file order', async () => {
    const text = `${HEAD}titel: t\nscan: { date: 2026-02-30, slice_thickness: 0.8 }\ngases:\n  - name: a\n    po2: 210\n    ph: 7,4\n`;
    const { problems, exitCode } = await problemsOf(text);
    expect(problems.map((line) => line.split(': ')[0])).toEqual([
      'case.yaml:4:1 titel',
      'case.yaml:5:15 scan.date',
      'case.yaml:5:44 scan.slice_thickness',
      'case.yaml:8:10 gases[0].po2',
      'case.yaml:9:9 gases[0].ph',
    ]);
    expect(exitCode).toBe(2);
  });

  it('reports a missing unit in the words of the manual', async () => {
    const { problems } = await problemsOf(`${HEAD}gases:\n  - name: a\n    po2: 210\n`);
    expect(problems[0]).toContain(
      'case.yaml:6:10 gases[0].po2: "210" has no unit. Write for example "210 mmHg" or "28 kPa".',
    );
  });

  const surfaces = (lines: string) => `surfaces:\n  unit: mm\n  parts:\n${lines}`;
  const A1 = '    - { name: A1, role: feeder, mesh: a.stl }\n';
  it.each([
    ['format: pavm-case/2\nid: x\n', '1:9 format: "pavm-case/2" is not a case file of this edition'],
    ['format: pavm-shelf/1\nid: x\n', '1:9 format: "pavm-shelf/1" is not a case file'],
    ['id: x\n', '1:1 this is not a pavm case file: it has no "format: pavm-case/1"'],
    ['', '1:1 this is not a pavm case file: it has no "format: pavm-case/1"'],
    ['- a\n', '1:1 this is not a pavm case file: it has no "format: pavm-case/1"'],
    ['- { format: pavm-case/1 }\n', '1:1 the file contains no keys'],
    ['format: pavm-case/1\n', '1:1 id: is missing. Short name of the case'],
    ['format: pavm-case/1\nid: A B\n', '2:5 id: "A B" is not allowed here. Use small letters'],
    ['format: pavm-case/1\nid: 7\n', '2:5 id: "7" is read as a number or yes/no. Put it in quotes'],
    [`${HEAD}title: "a\\nb"\n`, '4:8 title: "a\\u{a}b" contains a line break'],
    [`${HEAD}title: "a\\u202eb"\n`, '4:8 title: "a\\u{202e}b" contains a line break, control or invisible'],
    [`${HEAD}title: ${'x'.repeat(201)}\n`, 'is longer than 200 characters'],
    [`${HEAD}patient:\n`, '4:9 patient: is empty. Give a value or delete the line'],
    [`${HEAD}patient: { age: }\n`, '4:17 patient.age: is empty'],
    [`${HEAD}patient: { age: 46 }\n`, '4:17 patient.age: "46" has no unit. Write for example "46 y"'],
    [`${HEAD}patient: { age: [46] }\n`, '4:17 patient.age: a list is given where one text is needed'],
    [`${HEAD}patient: { age: { y: 46 } }\n`, '4:17 patient.age: a mapping is given where one text is needed'],
    [
      `${HEAD}patient: { sex: femal }\n`,
      '4:17 patient.sex: "femal" is not known here. Did you mean "female"?',
    ],
    [
      `${HEAD}patient: { pregnant: maybe }\n`,
      '4:22 patient.pregnant: "maybe" is not known here. Accepted: yes, no, unknown.',
    ],
    [
      `${HEAD}patient: { history: stroke }\n`,
      '4:21 patient.history: "stroke" is given where a list is needed',
    ],
    [
      `${HEAD}patient: { history: [stroek] }\n`,
      '4:22 patient.history[0]: "stroek" is not known here. Did you mean "stroke"?',
    ],
    [
      `${HEAD}patient: { history: [tia, tia] }\n`,
      '4:27 patient.history[1]: "tia" appears twice in this list',
    ],
    [`${HEAD}patient: { allergies: [Nickel] }\n`, '4:24 patient.allergies[0]: "Nickel" is not allowed here'],
    [
      `${HEAD}patient: { spirometry: { fev1: 2,9 L } }\n`,
      '4:32 patient.spirometry.fev1: "2,9 L" has a decimal comma. Write "2.9 L".',
    ],
    [
      `${HEAD}patient: { wieght: 62 kg }\n`,
      '4:12 patient.wieght: the key "wieght" is not known here. Did you mean "weight"?',
    ],
    [
      `${HEAD}patient: { hair: brown }\n`,
      '4:12 patient.hair: the key "hair" is not known here. Known here: age, sex',
    ],
    [
      `${HEAD}at_hand: { clamp: yes }\n`,
      '4:12 at_hand.clamp: the key "clamp" is not known here. Did you mean "clamps"?',
    ],
    [
      `${HEAD}at_hand: { blood: ordered }\n`,
      '4:19 at_hand.blood: "ordered" is not known here. Accepted: yes, no, unknown.',
    ],
    [
      `${HEAD}blood: { haemoglobin: 198 g/dL }\n`,
      '"198 g/dL" is outside 2 to 30 g/dL. The number looks like g/L',
    ],
    [`${HEAD}blood: { haematocrit: 0.58 }\n`, '"0.58" has no unit. Write for example "58 %"'],
    [
      `${HEAD}gases: [{ fio2: 100 }]\n`,
      '4:17 gases[0].fio2: "100" is outside 0.21 to 1. It is a fraction: write 1.0',
    ],
    [`${HEAD}gases: [{ fio2: "1,0" }]\n`, 'gases[0].fio2: "1,0" has a decimal comma'],
    [`${HEAD}gases: [{ fio2: high }]\n`, 'gases[0].fio2: "high" does not start with a number'],
    [`${HEAD}gases: [{ ph: "7.4" }]\n`, 'gases[0].ph: "7.4" is in quotes'],
    [`${HEAD}gases: [{ ph: 0x7 }]\n`, 'gases[0].ph: "0x7" is not a decimal number'],
    [`${HEAD}gases: [{ ph: .nan }]\n`, 'gases[0].ph: ".nan" is not a finite number'],
    [`${HEAD}gases: [{ ph: .inf }]\n`, 'gases[0].ph: ".inf" is not a finite number'],
    [`${HEAD}gases: [{ ph: 1e999 }]\n`, 'gases[0].ph: "1e999" is too large a number'],
    [
      `${HEAD}gases: [{ fio2: 1.0, po2: 6001 mmHg }]\n`,
      'gases[0].po2: "6001 mmHg" is outside 1 to 6000 mmHg. The number looks like mmHg',
    ],
    [`${HEAD}gases: [{ name: a }, { name: a }]\n`, '4:30 gases[1].name: "a" is the name of gases[0] too'],
    [
      `${HEAD}lesion: { side: left, lobe: middle }\n`,
      '4:29 lesion.lobe: "middle" is a lobe of the right lung',
    ],
    [
      `${HEAD}lesion: { side: right, lobe: lingula }\n`,
      '4:30 lesion.lobe: "lingula" is a part of the left lung',
    ],
    [`${HEAD}lesion: { segments: [S11] }\n`, '4:22 lesion.segments[0]: "S11" is not known here'],
    [
      `${HEAD}surfaces: { unit: mm }\n`,
      '4:11 surfaces: contains no surface. Give exactly one of parts, whole, labels or from_scan',
    ],
    [
      `${HEAD}surfaces: { parts: [{ name: A1, role: feeder, mesh: a.stl }] }\n`,
      '4:11 surfaces.unit: is missing',
    ],
    [
      `${HEAD}${surfaces(A1)}  whole: { mesh: a.stl, ends: [{ name: A1, role: feeder, at: [0, 0, 0] }] }\n`,
      '8:10 surfaces.whole: is given beside parts',
    ],
    [
      HEAD + surfaces('    - { name: V1, role: drain, mesh: a.stl }\n'),
      '7:5 surfaces.parts: names no feeder. At least one structure needs the role feeder. Where a treatment has closed them all, write its date as lesion.treated.',
    ],
    [`${HEAD}lesion: { treated: 2025-02-30 }\n`, '4:20 lesion.treated: '],
    [
      `${HEAD}lesion: { treated: 2025-06-12 }\n${surfaces('    - { name: V1, role: drain, mesh: a.stl }\n    - { name: B1, role: branch, mesh: b.stl }\n')}`,
      '9:7 surfaces.parts[1].of: is missing. There is no feeder: name the vessel that B1 leaves, for example "V1".',
    ],
    [HEAD + surfaces('    []\n'), 'surfaces.parts: is empty. Give at least one entry'],
    [
      HEAD + surfaces(`${A1}    - { name: A1, role: drain, mesh: b.stl }\n`),
      '8:15 surfaces.parts[1].name: "A1" is the name of surfaces.parts[0] too',
    ],
    [
      HEAD + surfaces(`${A1}    - { name: a1, role: drain, mesh: b.stl }\n`),
      '8:15 surfaces.parts[1].name: "a1" differs only in letter case',
    ],
    [
      HEAD + surfaces(`${A1}    - { name: ../x, role: drain, mesh: b.stl }\n`),
      '8:15 surfaces.parts[1].name: "../x" is not allowed here',
    ],
    [
      HEAD + surfaces(`${A1}    - { name: lobe, role: drain, mesh: b.stl }\n`),
      '"lobe" is kept for the lobe itself',
    ],
    [
      HEAD + surfaces(`${A1}    - { name: B1, role: branch, of: A9, mesh: b.stl }\n`),
      '8:37 surfaces.parts[1].of: "A9" is not the name of a structure here. Did you mean "A1"?',
    ],
    [
      HEAD + surfaces(`${A1}    - { name: B1, role: branch, of: B1, mesh: b.stl }\n`),
      '"B1" is the structure itself',
    ],
    [
      HEAD +
        surfaces(
          `${A1}    - { name: s, role: sac, mesh: s.stl }\n    - { name: B1, role: branch, of: s, mesh: b.stl }\n`,
        ),
      '"s" is not a vessel. Name one of: A1',
    ],
    [
      HEAD +
        surfaces(
          `${A1}    - { name: B1, role: branch, of: B2, mesh: b.stl }\n    - { name: B2, role: branch, of: B1, mesh: c.stl }\n`,
        ),
      '"B2" leads back to B1',
    ],
    [
      HEAD +
        surfaces(
          `${A1}    - { name: A2, role: feeder, mesh: c.stl }\n    - { name: B1, role: branch, mesh: b.stl }\n`,
        ),
      '9:7 surfaces.parts[2].of: is missing. There are several feeders',
    ],
    [
      HEAD + surfaces('    - { name: A1, rol: feeder, mesh: a.stl }\n'),
      '7:19 surfaces.parts[0].rol: the key "rol" is not known here. Did you mean "role"?',
    ],
    [
      HEAD + surfaces('    - { name: A1, role: feder, mesh: a.stl }\n'),
      '7:25 surfaces.parts[0].role: "feder" is not known here. Did you mean "feeder"?',
    ],
    [HEAD + surfaces('    - { name: A1, role: feeder, mesh: "" }\n'), 'surfaces.parts[0].mesh: is empty'],
    [
      HEAD + surfaces('    - { name: A1, role: feeder, mesh: "https://example.org/a.stl" }\n'),
      'is an address',
    ],
    [
      HEAD + surfaces('    - { name: A1, role: feeder, mesh: "a\\0.stl" }\n'),
      'contains a control or invisible character',
    ],
    [
      `${HEAD}surfaces:\n  unit: mm\n  whole: { mesh: a.stl, ends: [{ name: A1, role: feeder, at: [1,5, 2, 3] }] }\n`,
      '6:62 surfaces.whole.ends[0].at: needs 3 numbers, found 4',
    ],
    [
      `${HEAD}surfaces:\n  unit: mm\n  whole: { mesh: a.stl, ends: [{ name: A1, role: sac, at: [1, 2, 3] }] }\n`,
      '"sac" is not known here. Accepted: feeder, drain, branch, systemic-feeder',
    ],
    [
      `${HEAD}surfaces:\n  unit: mm\n  labels: { file: l.nrrd, parts: [{ name: A1, role: feeder, label: 0 }] }\n`,
      '"0" is not a label number: 1 to 65535',
    ],
    [
      `${HEAD}surfaces:\n  unit: mm\n  labels: { file: l.nrrd, parts: [{ name: A1, role: feeder, label: 1.5 }] }\n`,
      '"1.5" must be a whole number',
    ],
    [`${HEAD}print: { scale: 0 }\n`, '4:17 print.scale: "0" is out of range: it must be > 0'],
    [`${HEAD}expected: [{ value: a }]\n`, '4:12 expected[0]: names a value but not what it equals'],
    [`${HEAD}expected: [{ value: a, finding: b }]\n`, 'expected[0]: needs exactly one of value and finding'],
    [
      `${HEAD}expected: [{ value: a, equals: b, within: 1 }]\n`,
      'expected[0].within: needs a number in equals',
    ],
    [
      `${HEAD}expected: [{ finding: a, equals: 1 }]\n`,
      'expected[0]: names a finding; equals and within belong to a value',
    ],
    [
      `${HEAD}expected: [{ value: a, equals: 1, present: no }]\n`,
      'expected[0].present: belongs to a finding',
    ],
    [
      `${HEAD}expected:\n  - { value: "closure[0].so2", equals: 90 }\n  - { value: closure.0.so2, equals: 91 }\n`,
      'case.yaml:6:14 expected[1].value: "closure.0.so2" is given at case.yaml:5:14 too',
    ],
    [
      `${HEAD}expected: [{ finding: a }, { value: a, equals: 1 }, { finding: a, present: no }]\n`,
      'expected[2].finding: "a" is given at case.yaml:4:23 too',
    ],
  ])('%j', async (text, message) => {
    const { problems } = await problemsOf(text);
    expect(problems).toHaveLength(1);
    expect(problems[0]).toContain(message);
    expect(problems[0]).toMatch(/^case\.yaml:\d+:\d+ /);
  });

  it('are counted beyond one hundred', async () => {
    const { problems } = await problemsOf(`${HEAD}expected:\n${'  - { value: a }\n'.repeat(150)}`);
    expect(problems).toHaveLength(101);
    expect(problems[100]).toBe('case.yaml: and 50 more problems like the one at 5:5. Mend these first.');
  });

  it('of one kind never hide those of another', async () => {
    const text = `${HEAD}expected:\n${'  - { value: a }\n'.repeat(150)}scan: { slice_thickness: 1 }\nodd: 1\n`;
    const { problems } = await problemsOf(text);
    expect(problems).toHaveLength(103);
    expect(problems[100]).toMatch(/^case\.yaml:155:26 scan\.slice_thickness: "1" has no unit/);
    expect(problems[101]).toMatch(/^case\.yaml:156:1 odd: the key "odd" is not known here/);
  });

  it('report a duplicate key alongside all others', async () => {
    const { problems } = await problemsOf(`${HEAD}title: a\ntitle: b\nscan: { slice_thickness: 1 }\n`);
    expect(problems).toHaveLength(2);
    expect(problems[0]).toBe('case.yaml:5:1 title: the key "title" appears here twice. Keep one of them.');
    expect(problems[1]).toContain('scan.slice_thickness');
  });
});

describe('cautions and notes', () => {
  const part = (name: string, role: string, more = '') =>
    `    - { name: ${name}, role: ${role}, mesh: ${name}.stl${more} }\n`;
  const parts = (...lines: string[]) =>
    `${HEAD}surfaces:\n  unit: mm\n  frame: LPS\n  parts:\n${lines.join('')}`;
  const ALL = [part('A1', 'feeder'), part('s', 'sac'), part('V1', 'drain')];
  it.each([
    [parts(...ALL), []],
    [parts(...ALL, part('B1', 'branch')), ['branch-parent-assumed surfaces.parts[3]']],
    [parts(...ALL, part('B1', 'branch', ', of: A1')), []],
    [parts(part('A1', 'feeder'), part('V1', 'drain')), ['no-sac surfaces.parts']],
    [parts(part('A1', 'feeder'), part('s', 'sac')), ['no-drain surfaces.parts']],
    [
      parts(part('s', 'sac'), part('V1', 'drain')).replace(HEAD, `${HEAD}lesion: { treated: 2025-06-12 }\n`),
      ['no-feeder-open surfaces.parts'],
    ],
    [
      parts(part('V1', 'drain')).replace(HEAD, `${HEAD}gases: [{ name: g, when: after, site: arterial }]\n`),
      ['no-feeder-open surfaces.parts', 'no-sac surfaces.parts'],
    ],
    [
      `${HEAD}scan: { date: 2025-06-11 }\nlesion: { treated: 2025-06-12 }\n`,
      ['scan-before-treatment lesion.treated'],
    ],
    [`${HEAD}scan: { date: 2025-06-12 }\nlesion: { treated: 2025-06-12 }\n`, []],
    [parts(...ALL).replace('V1.stl', 's.stl'), ['mesh-used-twice surfaces.parts[2].mesh']],
    [parts(...ALL).replace('V1.stl', 's.stl, object: V1'), []],
    [parts(...ALL).replace('  frame: LPS\n', ''), ['frame-assumed surfaces.frame']],
    [`${HEAD}lesion: { side: right, lobe: lower, segments: [S6, S10] }\n`, []],
    [
      `${HEAD}lesion: { side: right, lobe: lower, segments: [S5] }\n`,
      ['segment-outside-lobe lesion.segments[0]'],
    ],
    [
      `${HEAD}lesion: { side: right, lobe: upper, segments: [S1+2] }\n`,
      ['segment-outside-lobe lesion.segments[0]'],
    ],
    [`${HEAD}lesion: { side: left, lobe: upper, segments: [S1+2, S3, S4] }\n`, []],
    [`${HEAD}lesion: { side: left, lobe: lingula, segments: [S4, S5] }\n`, []],
    [
      `${HEAD}lesion: { side: left, lobe: lingula, segments: [S3] }\n`,
      ['segment-outside-lobe lesion.segments[0]'],
    ],
    [`${HEAD}lesion: { side: left, lobe: lower, segments: [S7+8] }\n`, []],
    [`${HEAD}lesion: { segments: [S7+8] }\n`, []],
    [`${HEAD}patient: { allergies: [latex, penicillin] }\n`, ['allergy-without-rule patient.allergies[1]']],
    [`${HEAD}patient: { sex: male, pregnant: yes }\n`, ['pregnant-and-male patient.pregnant']],
    [`${HEAD}blood: { haemoglobin: 19.8 g/dL, haematocrit: 58 % }\n`, []],
    [
      `${HEAD}scan: { date: 2026-03-14 }\nplanned: { date: 2026-03-13 }\n`,
      ['planned-before-scan planned.date'],
    ],
    [`${HEAD}scan: { date: 2026-03-14 }\nplanned: { date: 2026-03-14 }\n`, []],
  ])('%j gives %j', async (text, expected) => {
    expect(await findingsOf(text)).toEqual(expected);
  });

  const sample = (keys: string) => `${HEAD}gases: [{ when: before, site: arterial, ${keys} }]\n`;
  it.each([['altitude: 100 m, pressure: 750 mmHg', ['pressure-over-altitude gases[0]']]])(
    'sample %j gives %j',
    async (keys, expected) => {
      expect(await findingsOf(sample(keys))).toEqual(expected);
    },
  );

  it('pressure wins over altitude', async () => {
    const { case: read } = await parseCase(sample('altitude: 100 m, pressure: 750 mmHg'), 'case.yaml');
    expect(read.gases[0]).toMatchObject({ barometricMmHg: 750, altitudeM: undefined });
  });
});
