import { createHash } from 'node:crypto';
import { beforeAll, describe, expect, it } from 'vitest';
import { type PageInput, pageHtml } from '../../src/page/page-html.js';
import type { PageData } from '../../src/page/page-types.js';
import { nearlyEmpty, oneFeeder, twoFeeders, withStrings } from '../report/fixtures.js';
import { demoCase, fineSurfaces, triangleCount } from './make.js';

const HOSTILE = '<img src=x onerror=alert(1)></script><script>window.pwned=1</script><!-- &"\'`]]>\u202e';

/** The data that the page passes to its viewer. */
function dataOf(html: string): PageData {
  const [, json] = /<script type="application\/json" id="lesion">(.*?)<\/script>/s.exec(html) ?? [];
  return JSON.parse(json) as PageData;
}

let plover: PageInput;
let html: string;
beforeAll(async () => {
  plover = await demoCase('plover');
  html = await pageHtml(plover);
}, 180_000);

describe('the file', () => {
  it('has the same bytes each time', async () => {
    expect(await pageHtml(await demoCase('plover'))).toBe(html);
  });

  it('allows by hash exactly the script and the style it contains, and no request', () => {
    const [, policy] = /<meta http-equiv="Content-Security-Policy" content="([^"]*)">/.exec(html) ?? [];
    const hash = (text: string): string =>
      `'sha256-${createHash('sha256').update(text, 'utf8').digest('base64')}'`;
    const styles = [...html.matchAll(/<style>(.*?)<\/style>/gs)].map((m) => hash(m[1]));
    const scripts = [...html.matchAll(/<script>(.*?)<\/script>/gs)].map((m) => hash(m[1]));
    expect([styles.length, scripts.length]).toEqual([1, 1]);
    expect(policy.split('; ')).toEqual([
      "default-src 'none'",
      `style-src ${styles[0]}`,
      `script-src ${scripts[0]}`,
      'img-src data:',
      "base-uri 'none'",
      "form-action 'none'",
    ]);
    const before = html.slice(0, html.indexOf('<script>'));
    expect(before).not.toMatch(/\son[a-z]+=|\sstyle="|(?:src|href)="(?!data:)/);
  });

  it('has no gaps in its text', () => {
    const words = html.slice(0, html.indexOf('<script'));
    expect(words).not.toMatch(/NaN|undefined|\[object|Infinity/);
    for (const text of ['6.8 mm', '4.2 mm', 'PLUG-10', 'PLUG-06', '31.8 %', 'KEEP', 'S8', 'local protocols'])
      expect(words).toContain(text);
  });

  it('contains a lesion of 200 000 triangles in less than 3 MB and states what thinning moved', async () => {
    const fine = fineSurfaces(plover);
    const measured = triangleCount(fine.structures);
    expect(measured).toBeGreaterThan(190_000);
    const large = await pageHtml(fine);
    expect(Buffer.byteLength(large)).toBeLessThan(3_000_000);
    const [, shown, all, error] =
      /drawn with (\d+) of (\d+) triangles; at the points compared it is within ([\d.]+) mm/.exec(large) ??
      [];
    expect(Number(all)).toBe(measured);
    expect(Number(shown)).toBeLessThanOrEqual(180_000);
    expect(Number(error)).toBeLessThan(0.1);
    const drawn = dataOf(large).structures.reduce(
      (sum, one) => sum + Buffer.from(one.triangles, 'base64').length / one.indexBytes / 3,
      0,
    );
    expect(drawn).toBe(Number(shown));
  });
});

describe('hostile text', () => {
  it.each([
    ['one feeder', oneFeeder],
    ['two feeders', twoFeeders],
  ])('stays text everywhere: %s', async (_, make) => {
    const result = withStrings(make(), (text) => `${HOSTILE}${text}`);
    const structures = plover.structures.map((one) => ({ ...one, name: `${HOSTILE}${one.name}` }));
    const page = await pageHtml({ result, structures, frame: 'LPS', views: [] });
    const words = page.slice(0, page.lastIndexOf('<script>'));
    expect(words.match(/<script/g)).toHaveLength(1);
    expect(words).not.toContain('<img');
    expect(words).not.toContain('<!--');
    expect(words.match(/<\/script>/g)).toHaveLength(1);
    expect(words).toContain('&lt;img src=x onerror=alert(1)&gt;');
    expect(words).not.toContain('\u202e');
    expect(() => dataOf(page)).not.toThrow();
  });
});

describe('a result with gaps', () => {
  it.each([
    ['nearly empty', nearlyEmpty, false],
    ['nearly empty, with surfaces', nearlyEmpty, true],
    ['centrelines missing', oneFeeder, true],
  ] as const)('%s: still a complete page', async (_, make, surfaces) => {
    const page = await pageHtml({
      result: make(),
      structures: surfaces ? plover.structures : [],
      frame: 'unknown',
      views: [],
    });
    const words = page.slice(0, page.indexOf('<script'));
    expect(words).not.toMatch(/NaN|undefined|\[object/);
    expect(words).toContain('Plan A');
    expect(words).not.toContain('data-view="back"');
  });
});

describe('the surfaces passed to the viewer', () => {
  it('lie on the grid: within half a cell of the measured vertices', () => {
    const { structures } = dataOf(html);
    for (const shown of structures) {
      const mesh = plover.structures.find((one) => one.name === shown.name)!.mesh;
      const grid = new Uint16Array(new Uint8Array(Buffer.from(shown.positions, 'base64')).buffer);
      expect(grid.length).toBe(mesh.positions.length);
      const bytes = new Uint8Array(Buffer.from(shown.triangles, 'base64'));
      const indices = shown.indexBytes === 2 ? new Uint16Array(bytes.buffer) : new Uint32Array(bytes.buffer);
      expect(shown.stepMm).toBeLessThan(0.002);
      let worst = 0;
      mesh.triangles.forEach((vertex, i) => {
        for (let k = 0; k < 3; k++) {
          const drawn = shown.origin[k] + grid[3 * indices[i] + k] * shown.stepMm;
          worst = Math.max(worst, Math.abs(drawn - mesh.positions[3 * vertex + k]));
        }
      });
      expect(worst).toBeLessThanOrEqual(shown.stepMm * 0.5001);
    }
  });

  it('are converted from RAS to LPS by half a turn about the head-foot axis', async () => {
    const turned = dataOf(await pageHtml({ ...plover, frame: 'RAS' }));
    const straight = dataOf(html);
    const [a, b] = [straight.vessels[0], turned.vessels[0]];
    a.centreline.forEach(([x, y, z], i) => {
      const [tx, ty, tz] = b.centreline[i];
      for (const gap of [tx + x, ty + y, tz - z]) expect(Math.abs(gap)).toBeLessThan(1e-9);
    });
    expect(turned.structures[0].origin[2]).toBeCloseTo(straight.structures[0].origin[2], 6);
  });

  it('one surface of the whole lesion becomes vessels and sac, every triangle once', async () => {
    const whole = await demoCase('plover-whole');
    const page = await pageHtml(whole);
    const data = dataOf(page);
    expect(data.structures.map((one) => `${one.name} ${one.role}`)).toEqual([
      'A1 feeder',
      'A2 feeder',
      'V1 drain',
      'B1 branch',
      'sac sac',
    ]);
    const count = data.structures.reduce(
      (sum, one) => sum + Buffer.from(one.triangles, 'base64').length / one.indexBytes / 3,
      0,
    );
    const all = whole.structures.find((one) => one.role === 'whole')!.mesh.triangles.length / 3;
    expect(count).toBe(all);
    // The sac cut out of the surface is not a second surface.
    expect(page).toContain(`drawn with all its ${all} triangles`);
  });
});

describe('the steps', () => {
  it('close the feeders in the order of the result and show the effect of each closure', () => {
    const { plans, structures } = dataOf(html);
    const names = (ids: string[]): string[] =>
      ids.map((id) => structures.find((one) => one.id === id)?.name ?? '?');
    expect(plans.a.map((step) => [names(step.focus), names(step.closed), names(step.placed)])).toEqual([
      [['A1'], [], []],
      [['A1'], ['A1'], ['A1']],
      [['A2'], ['A1'], ['A1']],
      [['A2'], ['A1', 'A2'], ['A1', 'A2']],
    ]);
    expect(plans.a.every((step) => names(step.guard).join() === 'B1')).toBe(true);
    const both = plover.result.closure.find((row) => row.closed !== 'lobe' && row.closed.length === 2)!;
    const box = html.slice(html.indexOf('With A1 and A2 closed'));
    expect(box.slice(0, 400)).toContain(`${(both.shunt_fraction! * 100).toFixed(1)} %`);
  });

  it('of plan B point at the structures of each stage and keep the spared branch guarded', () => {
    const { plans, structures } = dataOf(html);
    const names = (ids: string[]): string =>
      ids.map((id) => structures.find((one) => one.id === id)?.name ?? '?').join(' ');
    const stages = plover.result.resection!.steps.map((step) => step.stage);
    expect(plans.b).toHaveLength(stages.length);
    expect(names(plans.b[stages.indexOf('vein')].focus)).toBe('V1');
    expect(names(plans.b[stages.indexOf('exploration')].focus)).toBe('sac');
    expect(names(plans.b[stages.indexOf('proximal control')].focus)).toBe('A1 A2');
    expect(names(plans.b[stages.indexOf('before closing')].focus)).toBe('B1');
    for (const step of plans.b) expect(names(step.guard)).toBe('B1');
    expect(plans.b[stages.indexOf('artery')].closed).toEqual([]);
    expect(names(plans.b[stages.indexOf('vein')].closed)).toBe('A1 A2');
  });
});
