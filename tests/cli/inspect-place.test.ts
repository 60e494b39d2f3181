import { existsSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, describe, expect, it } from 'vitest';
import { type InspectOptions, run } from '../../src/cli/commands/inspect.js';
import { InputFailure } from '../../src/foundation/failure.js';
import { distance, type Vec3 } from '../../src/foundation/vector.js';
import { vesselsOf } from '../../src/phantoms/lesion.js';
import { lapwingLesion } from '../../src/phantoms/teaching-lesions.js';
import { capture } from './capture.js';

const CT = 'cases/lapwing/ct';
const work = mkdtempSync(join(tmpdir(), 'pavm-place-'));
afterAll(() => rmSync(work, { recursive: true, force: true }));

const inspect = (path: string, options: InspectOptions) =>
  capture((terminal) => run([path], options, terminal));
const problemOf = async (path: string, options: InspectOptions): Promise<{ code: number; text: string }> => {
  const error = await inspect(path, options).catch((thrown: unknown) => thrown);
  expect(error).toBeInstanceOf(InputFailure);
  const { exitCode, problems } = error as InputFailure;
  return { code: exitCode, text: problems.join('\n') };
};

interface Listed {
  calibre_mm: number;
  direction: Vec3;
  ends_mm: [Vec3, Vec3];
  joins_sac?: boolean;
  goes_on: boolean;
}

/** The vessel of the lesion whose axis is nearest to a point, and the distance. */
function nearestTo(p: Vec3): { name: string; awayMm: number } {
  const all = [...vesselsOf(lapwingLesion())].map(([name, { axis }]) => {
    // the scan continues past the far end
    const [end, inwards] = [axis.pointAt(0), axis.tangentAt(0)];
    const past = [0, 1, 2, 3, 4, 5, 6].map((s) => end.map((x, d) => x - s * inwards[d]) as Vec3);
    const on = Array.from({ length: Math.ceil(2 * axis.lengthMm) }, (_, i) => axis.pointAt(i / 2));
    return { name, awayMm: Math.min(...[...past, ...on].map((q) => distance(p, q))) };
  });
  return all.reduce((a, b) => (b.awayMm < a.awayMm ? b : a));
}

describe('a point in a scan', () => {
  it('in the sac: lists every vessel that joins it, with calibre and a far end on its axis, and draws a picture', async () => {
    const out = join(work, 'near.svg');
    const { code, out: text } = await inspect(CT, { sac: '80,31,-51', reach: '45 mm', out, json: true });
    expect(code).toBe(0);
    const { place, vessels, sac } = JSON.parse(text);
    expect(place.hu).toBeGreaterThan(280);
    expect(distance(sac.at_mm, [82, 30, -52])).toBeLessThan(2);
    const named = (vessels as Listed[]).map((one) => ({ ...one, ...nearestTo(one.ends_mm[1]) }));
    // the level midway between lumen and lung lies on the wall of a wide vessel; blur draws it inwards on thinner ones
    const wanted = { A1: 5.6, A2: 4.2, V1: 6.6 };
    expect(named.map(({ name }) => name).sort()).toEqual(Object.keys(wanted));
    for (const { name, awayMm, calibre_mm, joins_sac, ends_mm, direction } of named) {
      expect(awayMm, name).toBeLessThan(0.8);
      expect(Math.abs(calibre_mm - wanted[name as keyof typeof wanted]), name).toBeLessThan(0.35);
      expect(joins_sac, name).toBe(true);
      const outwards = ends_mm[1].map((x, d) => x - ends_mm[0][d]);
      expect(outwards.reduce((sum, x, d) => sum + x * direction[d], 0)).toBeCloseTo(
        Math.hypot(...outwards),
        0,
      );
    }
    const svg = readFileSync(out, 'utf8');
    for (const { ends_mm } of vessels as Listed[])
      expect(svg).toContain(`[${ends_mm[1].map((x) => x.toFixed(1)).join(', ')}]`);
  });

  it('next to a vessel: lists the vessels nearby, nearest first, and draws no picture unless asked', async () => {
    const { code, out } = await inspect(CT, { near: '[67, 7, -62]' });
    expect(code).toBe(0);
    const lines = out.split('\n').filter((line) => line.startsWith('vessel '));
    expect(lines[0]).toMatch(
      /^vessel 1 {13}6\.\d mm wide, \d+ mm long, towards .*: \[[-\d., ]+\] to \[[-\d., ]+\]/,
    );
    // the vessel that passes below: 3.0 mm
    expect(lines.some((line) => /^vessel \d +(2\.[6-9]|3\.[0-3]) mm wide/.test(line))).toBe(true);
    expect(out).toContain('--out FILE.svg writes one with coordinates');
  });

  it('in lung or outside: an error with the grey value, or with the extent of the scan', async () => {
    const lung = await problemOf(CT, { sac: '60,40,-30' });
    expect(lung.code).toBe(2);
    expect(lung.text).toMatch(/^--sac: nothing opacified at the point: -8\d\d HU were found there/);
    const outside = await problemOf(CT, { near: '1,2,3' });
    expect(outside.text).toMatch(
      /^--near: the point is outside the scan.*The scan reaches x 42\.0 to 99\.6, y /,
    );
  });

  it.each([
    [{ near: '1,2' }, /--near: "1,2" is not a point/],
    [{ near: '1,2,3', sac: '1,2,3' }, /give one of them/],
    [{ out: 'a.svg' }, /--out: it writes the picture of a place/],
    [{ near: '66,20,-31', out: join(work, 'a.png') }, /the picture is an SVG/],
    [{ near: '66,20,-31', out: join(CT, 'a.svg') }, /is in the folder of the scan/],
    [{ near: '66,20,-31', reach: '120 mm' }, /--reach: 120 mm; in a scan up to 80 mm/],
  ] as [InspectOptions, RegExp][])('refuses %o', async (options, text) => {
    expect(await problemOf(CT, options)).toMatchObject({ code: 2, text: expect.stringMatching(text) });
    expect(existsSync(join(CT, 'a.svg'))).toBe(false);
  });

  it('keeps a foreign file, and is for scans only', async () => {
    const kept = join(work, 'kept.svg');
    writeFileSync(kept, '<svg>mine</svg>');
    const error = await inspect(CT, { near: '66,20,-31', out: kept }).catch((thrown: unknown) => thrown);
    expect(error).toMatchObject({ exitCode: 5 });
    expect(readFileSync(kept, 'utf8')).toBe('<svg>mine</svg>');
    const mesh = await problemOf('cases/wren/meshes/sac.stl', { near: '1,2,3' });
    expect(mesh).toMatchObject({ code: 2, text: expect.stringContaining('is a mesh') });
  });
});
