import { describe, expect, it } from 'vitest';
import { parseCase } from '../../src/case/parse-case.js';
import { problemsOf } from './problems-of.js';

const HEAD = 'format: pavm-case/1\nid: x\npurpose: demo\n';
const SERIES = 'scan: { series: ct }\n';
const A1 = '{ name: A1, role: feeder, at: [-43.2, 10.5, 102.0] }';
const V1 = '{ name: V1, role: drain, at: [-12.0, -8.0, 88.0] }';
const scanCase = (
  { ends = [A1, V1], sac = '[-25, 4, 90]', frame = 'frame: LPS, ', more = '' } = {},
  scan = SERIES,
) => `${HEAD}${scan}surfaces: { ${frame}from_scan: { ends: [${ends.join(', ')}], sac: ${sac}${more} } }\n`;
const linesOf = async (text: string): Promise<string[]> => [...(await problemsOf(text)).problems];

describe('points in a scan instead of a surface', () => {
  it('are read as written, in mm, without a unit', async () => {
    const hash = 'AB'.repeat(32);
    const text = scanCase({ more: `, confirmed_by: "R. Reader", confirmed_surface: ${hash}` });
    const { case: read, findings } = await parseCase(text, 'case.yaml');
    expect(findings).toEqual([]);
    expect(read.surfaces).toMatchObject({
      unit: 'mm',
      unitMm: 1,
      frame: 'LPS',
      fromScan: {
        ends: [
          { name: 'A1', role: 'feeder', at: [-43.2, 10.5, 102] },
          { name: 'V1', role: 'drain', at: [-12, -8, 88] },
        ],
        sac: [-25, 4, 90],
        confirmedBy: 'R. Reader',
        confirmedSurface: 'ab'.repeat(32),
      },
    });
  });

  it('are in LPS where no frame is given, with a note', async () => {
    const { case: read, findings } = await parseCase(scanCase({ frame: '' }), 'case.yaml');
    expect(read.surfaces?.frame).toBe('LPS');
    expect(findings.map(({ id }) => id)).toEqual(['frame-assumed']);
  });

  it.each([
    [scanCase({}, ''), /^case\.yaml:4:\d+ surfaces\.from_scan: makes the surface from a CT series/],
    [
      scanCase({ sac: '[-43.2, 10.5, 102.1]' }),
      /from_scan\.sac: lies 0\.10 mm from surfaces\.from_scan\.ends\[0\]\.at/,
    ],
    [
      scanCase({ ends: [A1, V1.replace('[-12.0, -8.0, 88.0]', '[-43.2, 10.5, 102]')] }),
      /ends\[1\]\.at: lies 0\.00 mm from/,
    ],
    [
      scanCase({ ends: [A1, V1.replace('V1', 'A1')] }),
      /ends\[1\]\.name: "A1" is the name of surfaces\.from_scan\.ends\[0\] too/,
    ],
    [scanCase({ ends: [A1, V1.replace('V1', 'Sac')] }), /ends\[1\]\.name: "Sac" is kept for the sac itself/],
    [scanCase({ ends: [A1.replace('feeder', 'sac'), V1] }), /ends\[0\]\.role: "sac" is not known here/],
    [scanCase({ ends: [V1] }), /surfaces\.from_scan\.ends: names no feeder/],
    [
      scanCase({ ends: [A1, '{ name: B1, role: branch, of: A9, at: [1, 2, 3] }'] }),
      /ends\[1\]\.of: "A9" is not the name of a structure here/,
    ],
    [scanCase({ ends: [A1.replace('102.0', '"102"')] }), /ends\[0\]\.at\[2\]: .* in quotes/],
    [scanCase({ ends: [A1.replace(', 102.0', '')] }), /ends\[0\]\.at: needs 3 numbers, found 2/],
    [
      scanCase({ frame: 'frame: unknown, ' }),
      /surfaces\.frame: is unknown, so the points cannot be found in the scan/,
    ],
    [scanCase({ frame: 'unit: cm, frame: LPS, ' }), /surfaces\.unit: is given beside from_scan/],
    [scanCase({ frame: 'mend: 0.3 mm, frame: LPS, ' }), /surfaces\.mend: is for surfaces from files/],
    [
      scanCase({ more: ', confirmed_surface: abc, confirmed_by: me' }),
      /confirmed_surface: "abc" is not allowed here. Write the SHA-256/,
    ],
    [
      scanCase({ more: `, confirmed_surface: ${'0a'.repeat(32)}` }),
      /confirmed_surface: is given without confirmed_by/,
    ],
    [
      scanCase({ more: ', confirmedby: me' }),
      /from_scan\.confirmedby: the key "confirmedby" is not known here. Did you mean "confirmed_by"/,
    ],
    [
      `${HEAD}${SERIES}surfaces: { frame: LPS, from_scan: { ends: [${A1}], sac: [1, 2, 3] }, whole: { mesh: a.stl, ends: [${A1}] } }\n`,
      /surfaces\.from_scan: is given beside whole/,
    ],
  ])('are refused with their place: %#', async (text, line) => {
    const lines = await linesOf(text);
    expect(lines).toHaveLength(1);
    expect(lines[0]).toMatch(line);
  });

  it('a unit of mm is no contradiction', async () => {
    const { case: read } = await parseCase(scanCase({ frame: 'unit: mm, frame: RAS, ' }), 'case.yaml');
    expect(read.surfaces).toMatchObject({ unit: 'mm', frame: 'RAS' });
  });
});
