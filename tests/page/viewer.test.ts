import { readFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { type PageInput, pageHtml } from '../../src/page/page-html.js';
import { gridSphere, moved } from '../mesh/shapes.js';
import { CHROMIUM, cameraView, colours, type Opened, openBrowser, openPage, pixels } from './browser.js';
import { demoCase, fineSurfaces, plainTube, triangleCount } from './make.js';

const AXE = readFileSync(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8');

interface Violation {
  id: string;
  impact: string;
  nodes: string[];
}

/** Serious and critical violations found by axe-core (WCAG 2 rules and best practice). */
async function violations(page: Page): Promise<Violation[]> {
  await page.evaluate(AXE);
  const found = await page.evaluate(async () => {
    const { axe } = window as unknown as {
      axe: {
        run(): Promise<{ violations: { id: string; impact: string; nodes: { html: string }[] }[] }>;
      };
    };
    return (await axe.run()).violations.map(({ id, impact, nodes }) => ({
      id,
      impact,
      nodes: nodes.map((node) => node.html.slice(0, 120)),
    }));
  });
  return found.filter(({ impact }) => impact === 'serious' || impact === 'critical');
}

/** Sets a range input as a user would, with its own event. */
const slide = (page: Page, selector: string, value: number): Promise<void> =>
  page.locator(selector).evaluate((input, to) => {
    (input as HTMLInputElement).value = String(to);
    input.dispatchEvent(new Event('input', { bubbles: true }));
  }, value);

const text = async (page: Page, selector: string): Promise<string> =>
  ((await page.locator(selector).textContent()) ?? '').replace(/\s+/g, ' ');

describe.skipIf(CHROMIUM === undefined)('the page in a browser', () => {
  let browser: Browser;
  let plover: PageInput;
  let html: string;
  let opened: Opened;
  let page: Page;
  beforeAll(async () => {
    browser = await openBrowser();
    plover = await demoCase('plover');
    html = await pageHtml(plover);
    opened = await openPage(browser, html);
    page = opened.page;
  }, 180_000);
  afterAll(() => browser?.close());

  it('opens from disk without an error or a request and draws every structure', async () => {
    expect(await page.evaluate(() => document.documentElement.dataset.ready)).toBe('picture');
    const seen = await pixels(page);
    expect(seen.blue).toBeGreaterThan(3000);
    expect(seen.vermilion).toBeGreaterThan(3000);
    expect(seen.purple).toBeGreaterThan(3000);
    expect(opened.complaints).toEqual([]);
    expect(opened.requests).toEqual([]);
  });

  it('rotates, moves and zooms by mouse', async () => {
    const before = await cameraView(page);
    const box = (await page.locator('#scene').boundingBox())!;
    const [x, y] = [box.x + box.width / 2, box.y + box.height / 2];
    await page.mouse.move(x, y);
    await page.mouse.down();
    await page.mouse.move(x - 80, y + 40, { steps: 4 });
    await page.mouse.up();
    const turned = await cameraView(page);
    expect(turned.lao - before.lao).toBeGreaterThan(20);
    expect(turned.cranial - before.cranial).toBeGreaterThan(8);
    await page.mouse.wheel(0, -200);
    await expect.poll(async () => (await cameraView(page)).heightMm).toBeLessThan(before.heightMm * 0.9);
    const held = await pixels(page);
    await page.keyboard.down('Shift');
    await page.mouse.move(x, y);
    await page.mouse.down();
    await page.mouse.move(x + 2000, y, { steps: 3 });
    await page.mouse.up();
    await page.keyboard.up('Shift');
    expect((await pixels(page)).purple).toBeLessThan(held.purple / 4);
    await page.getByRole('button', { name: 'Front' }).click();
    const front = await cameraView(page);
    expect([front.lao, front.cranial]).toEqual([0, 0]);
  });

  it('rotates, zooms and goes home by keyboard', async () => {
    await page.locator('#scene').focus();
    const start = await cameraView(page);
    for (const key of ['ArrowLeft', 'ArrowLeft', 'ArrowDown']) await page.keyboard.press(key);
    const turned = await cameraView(page);
    expect([turned.lao, turned.cranial]).toEqual([10, 5]);
    await page.keyboard.press('+');
    expect((await cameraView(page)).heightMm).toBeCloseTo(turned.heightMm / 1.25, 0);
    await page.keyboard.press('-');
    await page.keyboard.press('Shift+ArrowRight');
    await page.keyboard.press('Home');
    await page.getByRole('button', { name: 'Front' }).press('Enter');
    expect((await cameraView(page)).heightMm).toBeCloseTo(start.heightMm, 0);
  });

  it('goes to the working view of the result, by button and by key', async () => {
    const { A1, A2 } = plover.result.vessels;
    const view = (vessel: typeof A1): number[] => [
      vessel.landing!.view!.lao_rao_deg,
      vessel.landing!.view!.cran_caud_deg,
    ];
    await page.getByRole('button', { name: /C-arm for A1/ }).click();
    const first = await cameraView(page);
    expect(Math.abs(first.lao - view(A1)[0])).toBeLessThan(0.1);
    expect(Math.abs(first.cranial - view(A1)[1])).toBeLessThan(0.1);
    await page.locator('#scene').focus();
    await page.keyboard.press('2');
    const second = await cameraView(page);
    expect(Math.abs(second.lao - view(A2)[0])).toBeLessThan(0.1);
    expect(await text(page, '#facing')).toContain(`LAO ${Math.round(view(A2)[0])}°`);
    await page.keyboard.press('Home');
    await page.getByRole('button', { name: 'Front' }).click();
  });

  it('fades a structure by mouse and by keyboard', async () => {
    const before = await pixels(page);
    const fader = page.getByRole('slider', { name: /V1 draining vein/ });
    const box = (await fader.boundingBox())!;
    await page.mouse.click(box.x + 2, box.y + box.height / 2);
    expect((await pixels(page)).vermilion).toBeLessThan(before.vermilion / 10);
    await fader.press('End');
    expect((await pixels(page)).vermilion).toBeGreaterThan(before.vermilion * 0.9);
  });

  it('cuts by control and by key, and moves the cut', async () => {
    const before = await pixels(page);
    await page.getByLabel('Cut plane').selectOption({ label: 'axial, from the head' });
    await slide(page, '#cut-at', 100);
    expect((await pixels(page)).any).toBeLessThan(before.any / 5);
    expect(await page.locator('.tag:visible').count()).toBe(0);
    await page.locator('#scene').focus();
    for (let i = 0; i < 30; i++) await page.keyboard.press('[');
    expect((await pixels(page)).any).toBeGreaterThan(before.any * 0.7);
    await page.keyboard.press('Escape');
    expect(await page.getByLabel('Cut plane').inputValue()).toBe('off');
    await page.keyboard.press('c');
    expect(await page.getByLabel('Cut plane').inputValue()).toBe('sight');
    await page.keyboard.press('Escape');
    expect((await pixels(page)).any).toBeCloseTo(before.any, -3);
  });

  it('flies to a vessel of the table and reads the calibre along it', async () => {
    await page.locator('[data-vessel]', { hasText: 'A2' }).press('Enter');
    expect(await text(page, '#along-name')).toBe('A2');
    await slide(page, '#along-at', 20);
    const sample = plover.result.vessels.A2.profile.find((one) => Math.abs(one.at_mm - 20) < 0.3)!;
    const shown = await text(page, '#along-text');
    expect(shown).toContain(`${sample.equivalent_mm.toFixed(1)} mm calibre`);
    const left = plover.result.vessels.A2.neck!.at_mm - 20;
    expect(shown).toContain(`${left.toFixed(1)} mm from the neck of the sac`);
    await page.locator('tr', { hasText: 'draining vein' }).click();
    expect(await text(page, '#along-name')).toBe('V1');
    await page.locator('#along-at').press('ArrowRight');
    expect(await page.locator('#along-at').getAttribute('aria-valuetext')).toContain('V1: ');
  });

  it('steps through plan A: text, numbers, device, closed vessel, guard', async () => {
    await page.getByRole('button', { name: 'Plan A, step by step' }).click();
    expect(await page.locator('.step:visible').count()).toBe(1);
    expect(await text(page, '.step.now')).toContain('Find the landing zone of A1');
    expect(await text(page, '.step.now')).toContain('31.8 %');
    expect(await page.locator('.tag.keep:visible').textContent()).toBe('KEEP B1 · S8');
    const open = await pixels(page);
    await page.getByRole('button', { name: 'Next step' }).press('Enter');
    const done = await text(page, '.step.now');
    expect(done).toContain('Close A1');
    expect(done).toContain('PLUG-10');
    const one = plover.result.closure.find((row) => String(row.closed) === 'A1')!;
    expect(done).toContain(`${(one.shunt_fraction! * 100).toFixed(1)} %`);
    expect((await pixels(page)).blue).toBeLessThan(open.blue * 0.7);
    expect(await text(page, '#said')).toContain('Step 2 of 4');
    await page.locator('#scene').focus();
    await page.keyboard.press('.');
    expect(await text(page, '.step.now')).toContain('Find the landing zone of A2');
    await page.keyboard.press(',');
    expect(await text(page, '.step.now')).toContain('Close A1');
    for (let i = 0; i < 9; i++) await page.keyboard.press('.');
    expect(await text(page, '.step.now')).toContain('4 of 4');
    expect(await page.getByRole('button', { name: 'Next step' }).getAttribute('aria-disabled')).toBe('true');
  });

  it('steps through plan B from the side of the lesion, to the end', async () => {
    await page.getByRole('button', { name: 'Plan B, step by step' }).click();
    expect((await cameraView(page)).lao).toBe(90);
    const steps = plover.result.resection!.steps;
    for (const step of steps.slice(1)) {
      await page.getByRole('button', { name: 'Next step' }).click();
      expect(await text(page, '.step.now h3')).toContain(
        step.stage.charAt(0).toUpperCase() + step.stage.slice(1),
      );
    }
    expect(await text(page, '.step.now')).toContain('With the lobe out');
    await page.getByRole('button', { name: 'No plan, look round' }).click();
    expect(await page.locator('.step:visible').count()).toBe(0);
  });

  it('has no serious accessibility violation, at rest and in a step', async () => {
    expect(await violations(page)).toEqual([]);
    await page.getByRole('button', { name: 'Plan A, step by step' }).click();
    expect(await violations(page)).toEqual([]);
    await page.getByRole('button', { name: 'No plan, look round' }).click();
  });

  it('lets the Tab key reach every control', async () => {
    const wanted = await page.evaluate(() => {
      const all = [...document.querySelectorAll<HTMLElement>('button, input, select, [tabindex="0"]')];
      return all
        .filter((one) => one.offsetParent !== null && !(one as HTMLButtonElement).disabled)
        .map((one, i) => {
          one.dataset.tabbed = String(i);
          return String(i);
        });
    });
    await page.evaluate(() => (document.activeElement as HTMLElement | null)?.blur());
    const met = new Set<string>();
    for (let i = 0; i < wanted.length + 5; i++) {
      await page.keyboard.press('Tab');
      met.add(await page.evaluate(() => (document.activeElement as HTMLElement).dataset.tabbed ?? ''));
    }
    expect(wanted.length).toBeGreaterThan(20);
    expect(wanted.filter((one) => !met.has(one))).toEqual([]);
  });

  it('prints all steps of both plans and the picture', async () => {
    await page.evaluate(() => dispatchEvent(new Event('beforeprint')));
    await page.emulateMedia({ media: 'print' });
    const steps = plover.result.resection!.steps.length + 4;
    expect(await page.locator('.step:visible').count()).toBe(steps);
    expect(await page.locator('.paper').getAttribute('src')).toMatch(/^data:image\/png;base64,/);
    expect(await page.locator('#views svg').first().isVisible()).toBe(true);
    expect(await page.locator('#scene').isVisible()).toBe(false);
    await page.emulateMedia({ media: 'screen' });
    expect(opened.complaints).toEqual([]);
  });

  it('rotates with one finger, zooms with two, reads with a tap', async () => {
    const touch = await openPage(browser, html, {
      hasTouch: true,
      isMobile: true,
      viewport: { width: 390, height: 844 },
    });
    const box = (await touch.page.locator('#scene').boundingBox())!;
    const [x, y] = [box.x + box.width / 2, box.y + box.height / 2];
    const session = await touch.page.context().newCDPSession(touch.page);
    const fingers = (type: 'touchStart' | 'touchMove' | 'touchEnd', points: number[][]): Promise<unknown> =>
      session.send('Input.dispatchTouchEvent', {
        type,
        touchPoints: points.map(([px, py], id) => ({ x: px, y: py, id })),
      });
    const before = await cameraView(touch.page);
    await fingers('touchStart', [[x, y]]);
    for (const d of [20, 40, 60]) await fingers('touchMove', [[x - d, y]]);
    await fingers('touchEnd', []);
    const turned = await cameraView(touch.page);
    expect(turned.lao).toBeGreaterThan(before.lao + 10);
    await fingers('touchStart', [
      [x - 30, y],
      [x + 30, y],
    ]);
    for (const d of [40, 60, 80])
      await fingers('touchMove', [
        [x - d, y],
        [x + d, y],
      ]);
    await fingers('touchEnd', []);
    expect((await cameraView(touch.page)).heightMm).toBeLessThan(turned.heightMm * 0.6);
    await touch.page.getByRole('button', { name: 'Front' }).tap();
    await touch.page.locator('#scene').evaluate((one) => one.scrollIntoView());
    await cameraView(touch.page);
    const now = (await touch.page.locator('#scene').boundingBox())!;
    const sac = plover.structures.filter(({ role }) => ['feeder', 'sac', 'drain', 'branch'].includes(role));
    const leader = touch.page.locator('.leaders line').nth(sac.findIndex(({ role }) => role === 'sac'));
    const [lx, ly] = [await leader.getAttribute('x1'), await leader.getAttribute('y1')].map(Number);
    await touch.page.touchscreen.tap(now.x + lx, now.y + ly);
    await expect.poll(() => text(touch.page, '.tip')).toMatch(/^sac: 6\.0 mL/);
    const wide = await touch.page.evaluate(() => document.documentElement.scrollWidth - innerWidth);
    expect(wide).toBeLessThanOrEqual(0);
    expect(touch.complaints).toEqual([]);
    await touch.page.context().close();
  });

  it('flies to its target where motion is welcome', async () => {
    const moving = await openPage(browser, html, { reducedMotion: 'no-preference' });
    await moving.page.getByRole('button', { name: 'Left side' }).click();
    await expect.poll(async () => (await cameraView(moving.page)).lao, { timeout: 8000 }).toBe(90);
    await moving.page.getByRole('button', { name: 'Back' }).click();
    await expect.poll(async () => Math.abs((await cameraView(moving.page)).lao), { timeout: 8000 }).toBe(180);
    expect(moving.complaints).toEqual([]);
    await moving.page.context().close();
  });

  // 2 s on an idle machine (PAVM_LONG=1); next to other tests a drawing may have to wait
  const mostMs = process.env.PAVM_LONG === '1' ? 2000 : 6000;
  it(`is drawn within ${mostMs / 1000} s for 200 000 triangles, in software`, async () => {
    const fine = fineSurfaces(plover);
    const large = await pageHtml(fine);
    const times: number[] = [];
    for (let run = 0; run < 5 && !times.some((ms) => ms < mostMs); run++) {
      const big = await openPage(browser, large);
      times.push(await big.page.evaluate(() => performance.getEntriesByName('lesion-drawn')[0].startTime));
      expect(big.complaints).toEqual([]);
      await big.page.context().close();
    }
    process.stderr.write(
      `page of ${triangleCount(fine.structures)} triangles drawn after ${times.map((ms) => ms.toFixed(0)).join(', ')} ms\n`,
    );
    expect(Math.min(...times)).toBeLessThan(mostMs);
  });
});

describe.skipIf(CHROMIUM === undefined)('a tube with everything known about it', () => {
  let browser: Browser;
  let page: Page;
  beforeAll(async () => {
    browser = await openBrowser();
    ({ page } = await openPage(browser, await pageHtml(plainTube())));
  }, 180_000);
  afterAll(() => browser?.close());

  it('is drawn at its size: 10 mm wide against the scale bar', async () => {
    const { heightMm } = await cameraView(page);
    const box = (await page.locator('#scene').boundingBox())!;
    const wide = await page.locator('.bar').evaluate((one) => (one as SVGGraphicsElement).getBBox().width);
    const mm = Number((await page.locator('.bar-text').textContent())!.split(' ')[0]);
    expect(wide / mm).toBeCloseTo(box.height / heightMm, 1);
    const seen = await pixels(page);
    const area = (seen.any * heightMm ** 2) / box.height ** 2;
    expect(Math.abs(area / 400 - 1)).toBeLessThan(0.06);
  });

  it('reads 10.0 mm at the pointer, and the distance to the neck', async () => {
    const box = (await page.locator('#scene').boundingBox())!;
    await page.mouse.move(box.x + box.width / 2, box.y + box.height / 2);
    await expect.poll(() => text(page, '.tip')).toMatch(/^T: 10\.0 mm calibre, (19|20)\.\d mm from the neck/);
  });

  it('measures a distance between two clicks, and between two presses of Enter', async () => {
    const { heightMm } = await cameraView(page);
    const box = (await page.locator('#scene').boundingBox())!;
    const [x, y] = [box.x + box.width / 2, box.y + box.height / 2];
    await page.getByRole('button', { name: 'Measure a distance' }).click();
    await page.mouse.click(x, y - 100);
    expect(await text(page, '#ruler-text')).toContain('First point on T');
    await page.mouse.click(x, y + 100);
    const mm = (200 * heightMm) / box.height;
    const read = Number(/^([\d.]+) mm in a straight line/.exec(await text(page, '#ruler-text'))?.[1]);
    expect(Math.abs(read - mm)).toBeLessThan(0.15);
    await page.locator('#scene').focus();
    await page.keyboard.press('Enter');
    for (let i = 0; i < 18; i++) await page.keyboard.press('ArrowLeft');
    await page.keyboard.press('Enter');
    const across = Number(/^([\d.]+) mm in a straight line/.exec(await text(page, '#ruler-text'))?.[1]);
    // A quarter of the way around a circle of 10 mm: the chord is 10/sqrt 2.
    expect(Math.abs(across - 10 / Math.SQRT2)).toBeLessThan(0.1);
    await page.keyboard.press('Escape');
    expect(await page.getByRole('button', { name: 'Measure a distance' }).getAttribute('aria-pressed')).toBe(
      'false',
    );
  });
});

describe.skipIf(CHROMIUM === undefined)('patient directions', () => {
  // In LPS: sac (purple) to the left, vein (red) to the front, artery (blue) to the head.
  const ball = (name: string, role: string, at: number[]): PageInput['structures'][number] => ({
    name,
    role,
    mesh: moved(gridSphere(24, 6), at),
  });
  const balls = (turn: number): PageInput => ({
    ...plainTube(),
    structures: [
      ball('sac', 'sac', [20 * turn, 0, 0]),
      ball('V1', 'drain', [0, -20 * turn, 0]),
      ball('A1', 'feeder', [0, 0, 20]),
    ],
  });

  it.each([
    ['LPS', 1],
    ['RAS', -1],
  ] as const)('%s: left is left, front is front, head is up, from every side', async (frame, turn) => {
    const browser = await openBrowser();
    try {
      const { page } = await openPage(browser, await pageHtml({ ...balls(turn), frame }));
      const letters = async (): Promise<string[]> => page.locator('.letter').allTextContents();
      const front = await colours(page);
      expect(front.purple.x).toBeGreaterThan(front.vermilion.x + 50);
      expect(front.blue.y).toBeLessThan(front.vermilion.y - 50);
      expect(await letters()).toEqual(['R', 'L', 'H', 'F']);
      await page.getByRole('button', { name: 'Left side' }).click();
      const left = await colours(page);
      expect(left.vermilion.x).toBeLessThan(left.purple.x - 50);
      expect(left.blue.y).toBeLessThan(left.purple.y - 50);
      expect(await letters()).toEqual(['A', 'P', 'H', 'F']);
      await page.getByRole('button', { name: 'Below, as axial CT' }).click();
      const below = await colours(page);
      expect(below.purple.x).toBeGreaterThan(below.vermilion.x + 50);
      expect(below.vermilion.y).toBeLessThan(below.purple.y - 50);
      expect(await letters()).toEqual(['R', 'L', 'A', 'P']);
      // Cranial: the viewer rises towards the head, so what lies in front sinks in the picture.
      await page.getByRole('button', { name: 'Front' }).click();
      await page.locator('#scene').focus();
      for (let i = 0; i < 6; i++) await page.keyboard.press('ArrowDown');
      expect((await cameraView(page)).cranial).toBe(30);
      expect(await text(page, '#facing')).toContain('cranial 30°');
      const above = await colours(page);
      expect(above.vermilion.y).toBeGreaterThan(above.purple.y + 20);
      // LAO: the viewer goes to the patient's left, so what lies in front moves to the left of the picture.
      await page.getByRole('button', { name: 'Front' }).click();
      await page.locator('#scene').focus();
      for (let i = 0; i < 6; i++) await page.keyboard.press('ArrowLeft');
      expect((await cameraView(page)).lao).toBe(30);
      expect(await text(page, '#facing')).toContain('LAO 30°');
      const lao = await colours(page);
      expect(lao.vermilion.x).toBeLessThan(lao.blue.x - 20);
    } finally {
      await browser.close();
    }
  });
});

describe.skipIf(CHROMIUM === undefined)('hostile names', () => {
  it('show as text and run nothing', async () => {
    const browser = await openBrowser();
    try {
      const input = plainTube();
      const name = '<img src=x onerror="window.pwned=1">';
      const { T } = input.result.vessels;
      input.result.title = '</title></script><script>window.pwned=1</script>';
      input.result.vessels = { [name]: { ...T, supplies: '</script><script>window.pwned=1</script>' } };
      input.structures = [{ ...input.structures[0], name }];
      const { page, complaints, requests } = await openPage(browser, await pageHtml(input));
      expect(await page.evaluate(() => (window as unknown as { pwned?: number }).pwned)).toBeUndefined();
      expect(await page.locator('h1').textContent()).toBe(input.result.title);
      expect(await page.locator('[data-vessel]').textContent()).toBe(name);
      expect(await page.locator('.tag.name').textContent()).toBe(name);
      expect(await page.locator('img:not(.paper)').count()).toBe(0);
      expect(await page.evaluate(() => document.scripts.length)).toBe(2);
      expect([complaints, requests]).toEqual([[], []]);
    } finally {
      await browser.close();
    }
  });
});

describe.skipIf(CHROMIUM === undefined)('without WebGL', () => {
  it('shows the drawn views; steps and calibres still work', async () => {
    const browser = await openBrowser(['--no-sandbox', '--disable-3d-apis']);
    try {
      const { page, complaints } = await openPage(browser, await pageHtml(await demoCase('heron')));
      expect(await page.evaluate(() => document.documentElement.dataset.ready)).toBe('plain');
      // All sides in one figure, and the working view of the only landing zone.
      expect(await page.locator('#views svg:visible').count()).toBe(2);
      expect(await page.locator('#views').textContent()).toContain(
        'Working view of A1: RAO 34°, cranial 29°',
      );
      expect(await page.locator('#without').isVisible()).toBe(true);
      expect(await page.locator('#scene').isVisible()).toBe(false);
      expect(await page.getByRole('slider').count()).toBe(0);
      await page.getByRole('button', { name: 'Plan A, step by step' }).click();
      expect(await text(page, '.step.now')).toContain('Find the landing zone of A1');
      // The step brings its own working view to the top.
      const tops = await page
        .locator('#views figure')
        .evaluateAll((all) => all.map((one) => one.getBoundingClientRect().top));
      expect(tops[1]).toBeLessThan(tops[0]);
      expect(await text(page, '#along-text')).toMatch(/^A1: 5\.6 mm calibre/);
      expect(await violations(page)).toEqual([]);
      expect(complaints).toEqual([]);
    } finally {
      await browser.close();
    }
  });
});
