import { cpSync, existsSync, mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, describe, expect, it } from 'vitest';
import { measureCase } from '../../src/cli/measure/measure-case.js';
import { measurePatient } from '../../src/cli/patient/measure-patient.js';
import { patientResult } from '../../src/cli/patient/plan-patient.js';
import { planResult } from '../../src/cli/plan/plan-files.js';
import { checkPatientResult } from '../../src/report/result-check.js';
import type { PatientResult } from '../../src/result/patient-result.js';
import { IS_LONG } from '../long-tests.js';
import { folderHash, pavm } from './run-pavm.js';

const work = mkdtempSync(join(tmpdir(), 'pavm-patient-'));
afterAll(() => rmSync(work, { recursive: true, force: true }));

const MOVED = /^(patient|blood|gases|circulation|shelf|planned|at_hand|expected)[ \t]*:/;

/** Top-level blocks of a case file. */
const blocksOf = (text: string): string[] => text.split(/^(?=[a-z_]+:)/m);

interface Lesion {
  /** Demo case it is based on. */
  from: string;
  edit?: (text: string) => string;
}

/** A patient folder made of demo cases; the blocks of the patient come from the first. */
function patientOf(name: string, lesions: Record<string, Lesion>, more = 'remainder: none\n'): string {
  const folder = join(work, name);
  mkdirSync(folder);
  const ids = Object.keys(lesions);
  const shared = blocksOf(readFileSync(`cases/${lesions[ids[0]].from}/case.yaml`, 'utf8'))
    .filter((block) => MOVED.test(block) && !/^(expected|planned)/.test(block))
    .join('');
  for (const [id, { from, edit = (text: string) => text }] of Object.entries(lesions)) {
    cpSync(`cases/${from}`, join(folder, id), {
      recursive: true,
      filter: (path) => !/\/plan(\/|$)/.test(path),
    });
    const text = blocksOf(readFileSync(join(folder, id, 'case.yaml'), 'utf8'))
      .filter((block) => !MOVED.test(block))
      .join('')
      .replace(/^( {2}date: ).*$/m, '$12026-03-14');
    writeFileSync(join(folder, id, 'case.yaml'), edit(text));
  }
  cpSync(join(folder, ids[0], 'shelf.yaml'), join(folder, 'shelf.yaml'));
  writeFileSync(
    join(folder, 'patient.yaml'),
    `format: pavm-patient/1\nid: ${name}\npurpose: demo\n${shared}${more}${more.includes('planned:') ? '' : 'planned: { date: 2026-04-02, approach: auto }\n'}lesions:\n${ids.map((id) => `  - { id: ${id}, case: ${id}/case.yaml }\n`).join('')}`,
  );
  return folder;
}

const toRight = (text: string): string => text.replace('side: left', 'side: right');
const resultOf = (folder: string): PatientResult =>
  JSON.parse(readFileSync(join(folder, 'plan', 'result.json'), 'utf8'));

describe('one lesion given as a patient', { timeout: 120_000 }, () => {
  it('gives the same result as that lesion as a case, to the last digit', async () => {
    const folder = patientOf('one', { only: { from: 'plover' } });
    const measured = await measurePatient(join(folder, 'patient.yaml'));
    const found = await patientResult(measured, {});
    const alone = (await planResult(await measureCase('cases/plover'))).result;
    expect(found.shunt).toEqual(alone.shunt);
    const numbers = (rows: typeof found.closure, strip: boolean) =>
      rows
        .filter(({ closed }) => closed !== 'lobe')
        .map(({ closed, assumed: _, remaining, ...row }) => ({
          ...row,
          closed: (closed as string[]).map((name) => (strip ? name.slice('only/'.length) : name)),
          flows: Object.values(remaining ?? {}),
        }));
    expect(numbers(found.closure, true)).toEqual(numbers(alone.closure, false));
    for (const [name, device] of Object.entries(alone.devices)) {
      const { code, oversize_percent, window_mm, on_shelf, ready_by } = found.devices[`only/${name}`];
      expect({ code, oversize_percent, window_mm, on_shelf, ready_by }).toEqual({
        code: device.code,
        oversize_percent: device.oversize_percent,
        window_mm: device.window_mm,
        on_shelf: device.on_shelf,
        ready_by: device.ready_by,
      });
    }
    expect(found.advice.recommended).toBe(alone.readiness.recommended);
    expect(found.lesions.only.flow_share).toBeCloseTo(1, 12);
    expect(await checkPatientResult(found)).toEqual([]);
  });
});

it('ignores a treatment planned in the file of one lesion, and reports it with its place', async () => {
  const edit = (text: string): string => `${text}planned: { date: 2026-09-09, approach: resect }\n`;
  const folder = patientOf('own-plan', { only: { from: 'plover', edit } });
  const ran = pavm(['check', folder]);
  expect(ran.code).toBe(0);
  const { findings } = await measurePatient(join(folder, 'patient.yaml'));
  expect(findings).toContainEqual(expect.objectContaining({ id: 'lesion-planned-not-used', where: 'only' }));
  expect(ran.stderr).toMatch(/caution only: case\.yaml:\d+:\d+ planned: .* is not used/);
});

describe('two lesions in both lungs', { timeout: 120_000 }, () => {
  const session =
    'planned: { date: 2026-05-04, session: { contrast_limit: 250 mL, one_lung: yes, most_feeders: 4, gap: 28 d } }\n';
  const folder = patientOf(
    'pair',
    { 'left-upper': { from: 'heron' }, 'right-lower': { from: 'plover', edit: toRight } },
    `remainder: none\n${session}`,
  );

  it('are planned together and each alone; shares add up, sessions respect the limits, closing all leaves the floor', () => {
    const ran = pavm(['plan', folder]);
    expect(ran.stderr).not.toMatch(/^stop/m);
    expect(ran.code).toBe(0);
    const result = resultOf(folder);
    expect(result.format).toBe('pavm-patient-result/1');
    const shares = Object.values(result.lesions).map(({ flow_share: share }) => share!);
    expect(shares.reduce((a, b) => a + b, 0) + result.remainder_share!).toBeCloseTo(1, 3);
    for (const { flow_share: share, shunt_fraction: carried } of Object.values(result.lesions))
      expect(carried).toBeCloseTo(share! * (result.shunt!.fraction! - 0.027), 3);
    expect(result.sessions.map(({ closes, on }) => ({ closes, on }))).toEqual([
      { closes: ['right-lower/A1', 'right-lower/A2'], on: '2026-05-04' },
      { closes: ['left-upper/A1'], on: '2026-06-01' },
    ]);
    for (const {
      contrast_ml: [low, high],
      devices,
    } of result.sessions) {
      expect(low).toBeLessThan(high);
      expect(high).toBeLessThanOrEqual(250);
      for (const { code } of devices) expect(code).toBeDefined();
    }
    const last = result.sessions.at(-1)!;
    expect(last.shunt_after_fraction).toBe(0.027);
    const sets = result.closure.map(({ closed }) => (closed as string[]).join('+'));
    for (const set of [
      'left-upper/A1',
      'right-lower/A1',
      'right-lower/A2',
      'left-upper/A1+right-lower/A1+right-lower/A2',
    ])
      expect(sets).toContain(set);
    for (const file of [
      'patient.md',
      'checklist.md',
      'counselling.md',
      'urgent.md',
      'page.html',
      'figures/lungs.svg',
      'lesions/left-upper/plan.md',
      'lesions/right-lower/result.json',
    ])
      expect(existsSync(join(folder, 'plan', file)), file).toBe(true);
    const text = readFileSync(join(folder, 'plan', 'patient.md'), 'utf8');
    const order = [
      'Summary',
      'Lesions',
      'Picture',
      'Not planned',
      'Shunt and oxygen',
      'Sessions',
      'Devices',
      'Plan B',
      'For life',
      'Unknown',
      'Decision',
    ];
    const places = order.map((heading) => text.indexOf(`\n## ${heading}\n`));
    expect(places.every((place) => place > 0)).toBe(true);
    expect(places).toEqual([...places].sort((a, b) => a - b));
    expect(readFileSync(join(folder, 'plan', 'urgent.md'), 'utf8').split('\n').length).toBeLessThanOrEqual(
      61,
    );
    for (const name of ['patient.md', 'checklist.md', 'counselling.md', 'urgent.md'])
      expect(readFileSync(join(folder, 'plan', name), 'utf8')).toContain(
        'This software is not a medical device',
      );
  });

  it('close accepts feeders, lesions and sessions, and lists the known ones', () => {
    const rows = (...names: string[]) => JSON.parse(pavm(['close', folder, ...names, '--json']).stdout);
    expect(rows('right-lower/A1', 'left-upper')[0].closed).toEqual(['left-upper/A1', 'right-lower/A1']);
    const session = resultOf(folder).sessions[0];
    const [row] = rows('session-1');
    expect(row.closed).toEqual(session.closes);
    expect(row.shunt_fraction).toBeCloseTo(session.shunt_after_fraction!, 4);
    const wrong = pavm(['close', folder, 'right-upper/A1']);
    expect(wrong.code).toBe(2);
    expect(wrong.stderr).toMatch(/right-upper\/A1.*Known: left-upper\/A1, right-lower\/A1/);
  });

  it('compare: a plan matches itself; a lesion closed since is named, with what is left', () => {
    const plan = join(folder, 'plan');
    const same = pavm(['compare', plan, plan, '--json']);
    expect(same.code).toBe(0);
    expect(JSON.parse(same.stdout)).toMatchObject({
      verdict: 'plan stands',
      because: ['caution: Both plans use the same files.'],
      sessions: [{ state: 'stands' }, { state: 'stands' }],
    });
    const later = join(work, 'later');
    cpSync(plan, later, { recursive: true });
    const file = join(later, 'result.json');
    const result = resultOf(folder);
    // the first session has been done
    Object.assign(result.lesions['right-lower'], { state: 'closed', feeder_count: 0, feeders: [] });
    result.sessions = result.sessions.slice(1);
    writeFileSync(file, JSON.stringify(result, null, 2));
    const { code, stdout } = pavm(['compare', plan, later]);
    expect(stdout).toMatch(/right-lower.*closed since/);
    expect(stdout).toMatch(/1 +\| right-lower\/A1, right-lower\/A2 \| done/);
    expect(stdout).toMatch(/2 +\| left-upper\/A1 +\| unchanged, still to be done/);
    expect(code).toBe(0);
    expect(pavm(['compare', plan, 'cases/heron']).code).toBe(2);
  });

  it.each([
    ['compact', (result: PatientResult) => JSON.stringify(result)],
    [
      'with tabs, after a byte order mark',
      (result: PatientResult) => `\uFEFF\r\n${JSON.stringify(result, null, '\t')}`,
    ],
    [
      'with its keys in another order',
      (result: PatientResult) => JSON.stringify(Object.fromEntries(Object.entries(result).reverse())),
    ],
  ])('compare recognises the result of a patient that another program wrote %s', (_, written) => {
    const [plan, again] = [join(folder, 'plan'), mkdtempSync(join(work, 'written-'))];
    cpSync(plan, again, { recursive: true });
    writeFileSync(join(again, 'result.json'), written(resultOf(folder)));
    const { code, stdout } = pavm(['compare', plan, again, '--json']);
    expect(JSON.parse(stdout)).toMatchObject({ verdict: 'plan stands', sessions: [{ state: 'stands' }, {}] });
    expect(code).toBe(0);
  });

  it('check, grade and batch accept it', () => {
    expect(pavm(['check', folder])).toMatchObject({ code: 0, stdout: expect.stringMatching(/^OK {2}pair/) });
    const keyed = join(work, 'keyed');
    cpSync(folder, keyed, { recursive: true, filter: (path) => !/\/plan(\/|$)/.test(path) });
    const file = join(keyed, 'patient.yaml');
    writeFileSync(
      file,
      `${readFileSync(file, 'utf8').replace('id: pair', 'id: keyed')}expected:\n  - { value: lesions.right-lower.flow_share, equals: 0.7, within: 0.02 }\n  - { value: "sessions[0].closes[0]", equals: right-lower/A1 }\n  - { value: remainder, equals: none }\n`,
    );
    // one line of the key is wrong: the others are right
    writeFileSync(file, readFileSync(file, 'utf8').replace('equals: none }', 'equals: unknown }'));
    const graded = pavm(['grade', keyed, '--json']);
    expect(graded.code).toBe(1);
    expect(JSON.parse(graded.stdout).cases[0]).toMatchObject({ points: 2, of: 3 });
    const out = join(work, 'batch');
    expect(pavm(['batch', folder, '--out', out, '--jobs', '1']).code).toBe(0);
    const summary = JSON.parse(readFileSync(join(out, 'summary.json'), 'utf8'));
    expect(summary.cases.map(({ case: name }: { case: string }) => name)).toEqual([
      'pair',
      'pair/left-upper',
      'pair/right-lower',
    ]);
    // an up-to-date plan gives the same rows; a changed file of one lesion is detected
    const again = pavm(['batch', folder, '--out', out, '--jobs', '1']);
    expect(again.stderr).toContain('0 computed, 1 unchanged');
    expect(JSON.parse(readFileSync(join(out, 'summary.json'), 'utf8'))).toEqual(summary);
    if (!IS_LONG) return;
    const own = join(folder, 'left-upper', 'case.yaml');
    writeFileSync(own, `${readFileSync(own, 'utf8')}# seen\n`);
    const changed = pavm(['batch', folder, '--out', out, '--jobs', '1']);
    expect(changed.stderr).toContain('1 computed, 0 unchanged');
  });
});

describe('a faulty patient file', { timeout: 120_000 }, () => {
  const two = { a: { from: 'heron' }, b: { from: 'heron' } };
  const say = (folder: string): string => {
    const ran = pavm(['check', folder]);
    expect(ran.code).toBe(2);
    return ran.stderr;
  };

  it('duplicate ids, an unknown key, an invalid remainder, a missing case file', () => {
    const folder = patientOf('wrong', two, 'remainder: much\nremainders: none\n');
    const file = join(folder, 'patient.yaml');
    writeFileSync(
      file,
      readFileSync(file, 'utf8').replace('id: b, case: b/case.yaml', 'id: a, case: c/case.yaml'),
    );
    const text = say(folder);
    expect(text).toMatch(/patient\.yaml:\d+:\d+ lesions\[1\]\.id: "a" is the id of lesions\[0\] too/);
    expect(text).toMatch(/remainder: "much" is not a remainder/);
    expect(text).toMatch(/remainders.*remainder/);
    writeFileSync(
      file,
      readFileSync(file, 'utf8')
        .replace(/remainder.*\n/g, '')
        .replace('id: a, case: c', 'id: b, case: c'),
    );
    expect(pavm(['check', folder]).stderr).toMatch(/lesions\[1\]\.case: there is no file "c\/case\.yaml"/);
  });

  it('a lesion with its own gases, or with another date or frame; one file named twice', () => {
    const folder = patientOf('others', {
      a: { from: 'heron' },
      b: {
        from: 'heron',
        edit: (text) =>
          `${text.replace('2026-03-14', '2025-01-01').replace('frame: LPS', 'frame: RAS')}gases:\n  - { name: x, fio2: 1.0, site: arterial, po2: 200 mmHg }\n`,
      },
    });
    const text = say(folder);
    expect(text).toMatch(/b\/case\.yaml:\d+:\d+ gases: this block belongs to the patient/);
    expect(text).toMatch(
      /b\/case\.yaml:\d+:\d+ scan\.date: "2025-01-01", but "2026-03-14" in the case file of a/,
    );
    expect(text).toMatch(/b\/case\.yaml:\d+:\d+ surfaces\.frame: "RAS", but "LPS"/);
    const twice = patientOf('twice', two);
    const file = join(twice, 'patient.yaml');
    writeFileSync(file, readFileSync(file, 'utf8').replace('b/case.yaml', 'a/case.yaml'));
    expect(say(twice)).toMatch(/this is the case file of lesions\[0\] too/);
  });

  it('one broken lesion does not stop the other: exit 3, unknown remainder, and a stop that names it', () => {
    const folder = patientOf('broken', two);
    writeFileSync(join(folder, 'b', 'meshes', 'A1.stl'), 'solid nothing');
    const ran = pavm(['plan', folder]);
    expect(ran.code).toBe(3);
    expect(ran.stderr).toMatch(/^b: meshes\/A1\.stl/m);
    const result = resultOf(folder);
    expect(result.remainder).toBe('unknown');
    expect(result.lesions.b).toMatchObject({ state: 'not planned' });
    expect(result.lesions.a.flow_share_is).toBe('at-most');
    expect(result.findings).toContainEqual(
      expect.objectContaining({ id: 'lesion-not-planned', level: 'stop', where: 'b' }),
    );
    expect(existsSync(join(folder, 'plan', 'lesions', 'a', 'plan.md'))).toBe(true);
    expect(existsSync(join(folder, 'plan', 'lesions', 'b'))).toBe(false);
  });
});

describe('shunt through lesions outside the surfaces', { timeout: 120_000 }, () => {
  it('unknown: gives bounds and no promise; as a share: it remains', async () => {
    const results: PatientResult[] = [];
    for (const remainder of ['unknown', '20 %']) {
      const folder = patientOf(
        `rest-${results.length}`,
        { a: { from: 'heron' } },
        `remainder: ${remainder}\n`,
      );
      results.push(await patientResult(await measurePatient(join(folder, 'patient.yaml')), {}));
    }
    const [unknown, share] = results;
    const all = (one: PatientResult) => one.closure.at(-1)!;
    expect(all(unknown).shunt_fraction_is).toBe('at-least');
    expect(unknown.findings.map(({ id }) => id)).toContain('other-lesions');
    expect(unknown.remainder_share_range).toEqual([0, 1]);
    expect(share.lesions.a.flow_share! + share.remainder_share!).toBeCloseTo(1, 9);
    const f = share.shunt!.fraction!;
    expect(all(share).shunt_fraction).toBeCloseTo((0.2 * f) / (0.2 * f + 1 - f), 4);
    expect(all(share).shunt_fraction_is).toBeUndefined();
    // what no surface contains has no calibre, so no velocity
    const flows = share.findings.filter(({ id }) => id === 'feeder-flow').map(({ where }) => where);
    expect(flows).toContain('a/A1');
    expect(flows).not.toContain('remainder');
  });
});

describe('pavm new --patient', { timeout: 120_000 }, () => {
  it('joins case folders without changing a file; the draft is checked like any other', () => {
    const folder = join(work, 'joined');
    mkdirSync(folder);
    for (const name of ['heron', 'plover'])
      cpSync(`cases/${name}`, join(folder, name), {
        recursive: true,
        filter: (path) => !/\/plan(\/|$)/.test(path),
      });
    const before = folderHash(folder);
    const ran = pavm(['new', '--patient', folder]);
    expect(ran.code).toBe(0);
    expect(ran.stderr).toMatch(/CHECK gases: plover differs from that of heron/);
    expect(folderHash(folder).filter((line) => !/patient\.yaml|lesion\.yaml/.test(line))).toEqual(before);
    // the two cases were scanned on different days: reported, with the place
    expect(pavm(['check', folder])).toMatchObject({ code: 2, stderr: expect.stringContaining('scan.date') });
    const lesion = join(folder, 'plover', 'lesion.yaml');
    writeFileSync(lesion, readFileSync(lesion, 'utf8').replace('2026-03-11', '2026-03-14'));
    expect(pavm(['check', folder]).code).toBe(0);
    expect(pavm(['new', '--patient', folder]).code).toBe(2);
  });
});
