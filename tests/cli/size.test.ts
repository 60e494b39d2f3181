import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, describe, expect, it } from 'vitest';
import { run, type SizeOptions } from '../../src/cli/commands/size.js';
import { InputFailure } from '../../src/foundation/failure.js';
import { capture } from './capture.js';
import { pavm } from './run-pavm.js';

const folder = mkdtempSync(join(tmpdir(), 'pavm-size-'));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

function file(name: string, text: string): string {
  const path = join(folder, name);
  writeFileSync(path, text);
  return path;
}

const SHELF = file(
  'shelf.yaml',
  `format: pavm-shelf/1
as_of: 2026-03-20
devices:
  - { code: PLUG-08, kind: vascular-plug, diameter: 8 mm, length: 7 mm, needs_lumen: 1.8 mm, in_stock: 2, lead_time: 21 d, nickel: yes }
  - { code: PLUG-09, kind: vascular-plug, diameter: 0.9 cm, length: 7 mm, needs_lumen: 2.2 mm, in_stock: 0, lead_time: 21 d, nickel: yes }
  - { code: COIL-78, kind: detachable-coil, diameter: 7.8 mm, length: 300 mm, needs_lumen: 0.6 mm, in_stock: 6, lead_time: 3 d, nickel: no }
`,
);

const size = (options: SizeOptions, args: string[] = [], settings = {}) =>
  capture((terminal) => run(args, options, terminal), settings);

async function problem(options: SizeOptions, args: string[] = []): Promise<{ code: number; text: string }> {
  try {
    await size(options, args);
  } catch (error) {
    if (error instanceof InputFailure) return { code: error.exitCode, text: error.problems.join('\n') };
    throw error;
  }
  return { code: 0, text: '' };
}

describe('pavm size', () => {
  it('--json prints one device object on stdout, findings on stderr', async () => {
    const { code, out, err } = await size({ calibre: '6.2mm', zone: '15mm', shelf: SHELF, json: true });
    expect(code).toBe(0);
    const device = JSON.parse(out);
    expect(device).toMatchObject({
      window_mm: [8.06, 9.3],
      kind: 'vascular-plug',
      code: 'PLUG-09',
      diameter_mm: 9,
      oversize_percent: 45.16,
      count: 1,
      rule: 'window-vascular-plug',
      on_shelf: false,
      ready_by: '2026-04-10',
      needs_lumen_mm: 2.2,
      borderline: false,
    });
    expect(device.alternates.map((entry: { code: string }) => entry.code)).toEqual(['COIL-78']);
    expect(device.rejected).toEqual([
      {
        code: 'PLUG-08',
        kind: 'vascular-plug',
        why: '8 mm on 6.20 mm is 29.03 % over, below the window of 30 to 50 % (8.06 to 9.30 mm); the nearest vascular-plug below',
        size: {
          diameter_mm: 8,
          oversize_percent: 29.03,
          window_percent: [30, 50],
          window_mm: [8.06, 9.3],
          is_nearest: true,
        },
      },
    ]);
    expect(err).toMatch(/^caution feeder: PLUG-09: 1 needed, 0 in stock/);
  });

  it('plain text for a reader', async () => {
    const { out } = await size({ calibre: '6 mm', zone: '15 mm', shelf: SHELF });
    expect(out).toContain('Landing calibre 6.00 mm\nWindow 7.80 to 9.00 mm (window-vascular-plug)\n');
    expect(out).toContain(
      'Device PLUG-08: vascular-plug, 8 mm, 33.3 % over\nNeeds an inner lumen of 1.8 mm\nOn the shelf\n',
    );
    expect(out).toContain('Alternate PLUG-09: vascular-plug, 9 mm, 50.0 % over, not on the shelf');
    expect(out).toContain('instructions for use');
  });

  it('without a shelf: only the window', async () => {
    const { code, out } = await size({ calibre: '0.62 cm', json: true });
    expect(code).toBe(0);
    expect(JSON.parse(out)).toEqual({
      window_mm: [8.06, 9.3],
      alternates: [],
      rejected: [],
      borderline: false,
      rule: 'window-vascular-plug',
      absent_because: 'no shelf file was given: only the window is known',
    });
  });

  it('an allergy, a zone too short, a date, quiet', async () => {
    const allergic = await size({
      calibre: '6.2mm',
      zone: '15mm',
      shelf: SHELF,
      allergy: 'nickel',
      json: true,
    });
    expect(JSON.parse(allergic.out)).toMatchObject({ code: 'COIL-78', kind: 'detachable-coil' });
    const short = await size({ calibre: '6.2mm', zone: '9mm', shelf: SHELF });
    expect(short.out).toMatch(/No device: none of the 3 devices/);
    expect(short.code).toBe(1);
    const dated = await size({
      calibre: '6.2mm',
      zone: '15mm',
      shelf: SHELF,
      today: '2026-12-20',
      json: true,
    });
    expect(JSON.parse(dated.out).ready_by).toBe('2027-01-10');
    const quiet = await size({ calibre: '2.5mm' }, [], { quiet: true });
    expect(quiet.err).toBe('');
    expect((await size({ calibre: '2.5mm' })).err).toMatch(/^note feeder: /);
  });

  it('as a program, exits with 1 where it names no device', () => {
    const run = (...args: string[]) => pavm(['size', ...args]).code;
    expect(run('--calibre', '6.2mm', '--zone', '15mm', '--shelf', SHELF)).toBe(0);
    // nothing on the shelf is 30 % larger
    expect(run('--calibre', '9mm', '--zone', '15mm', '--shelf', SHELF)).toBe(1);
    // without a shelf the window is the answer
    expect(run('--calibre', '6.2mm')).toBe(0);
  });

  it("a hospital's own rules", async () => {
    const rules = mkdtempSync(join(folder, 'rules-'));
    writeFileSync(
      join(rules, 'ours.yaml'),
      'format: pavm-rules/1\nrules:\n  - { id: window-vascular-plug, kind: window, for: vascular-plug, low: 1.2, high: 1.4, text: Ours, source: "local: protocol 7" }\n',
    );
    const { out } = await size({ calibre: '6.2mm', zone: '15mm', shelf: SHELF, rules, json: true });
    expect(JSON.parse(out)).toMatchObject({
      code: 'PLUG-08',
      window_mm: [7.44, 8.68],
      rule_source: 'local: protocol 7',
    });
  });

  it.each([
    [{}, [], 2, /^size needs --calibre\. Example/],
    [{ calibre: '6.2' }, [], 2, /^--calibre: "6\.2" has no unit/],
    [{ calibre: '6,2 mm' }, [], 2, /^--calibre: .*decimal comma/],
    [{ calibre: '0 mm' }, [], 2, /^--calibre: .*above 0/],
    [{ calibre: '62 cm' }, [], 2, /^--calibre: .*up to 60 mm/],
    [{ calibre: '6 mm', zone: '-1 mm' }, [], 2, /^--zone: /],
    [
      { calibre: '6 mm', allergy: 'nikel' },
      [],
      2,
      /^--allergy: "nikel" is not known here\. Did you mean "nickel"\?/,
    ],
    [{ calibre: '6 mm', today: '2026-02-30' }, [], 2, /^--today: /],
    [{ calibre: '6 mm', shelf: join(folder, 'none.yaml') }, [], 3, /none\.yaml/],
    [{ calibre: '6 mm', rules: join(folder, 'none') }, [], 2, /^--rules: the folder "none"/],
    [{ calibre: '6 mm' }, ['A1'], 2, /^size takes options only, not "A1"/],
  ])('refuses %j %j', async (options, args, code, text) => {
    const found = await problem(options, args);
    expect(found.code).toBe(code);
    expect(found.text).toMatch(text);
  });
});
