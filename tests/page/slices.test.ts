import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { pageHtml } from '../../src/page/page-html.js';
import { pageScan } from '../../src/page/page-scan.js';
import type { GreyVolume } from '../../src/volume/ct/grey-volume.js';
import { axialStack } from '../witness/synthetic-ct.js';
import { CHROMIUM, type Opened, openBrowser, openPage } from './browser.js';
import { plainTube } from './make.js';

const tube = plainTube();

/** The tube, 10 mm wide, in lung, with a bright ball 3 mm wide next to it halfway along, on the patient's left. */
function scan(): GreyVolume {
  const { positions } = tube.structures[0].mesh;
  const z = Array.from(positions).filter((_, i) => i % 3 === 2);
  const [low, high] = [Math.min(...z), Math.max(...z)];
  const step = 0.8;
  const [columns, rows] = [60, 60];
  const slices = Math.ceil((high - low + 40) / step);
  const origin: [number, number, number] = [-23.6, -23.6, low - 20];
  const values = new Int16Array(columns * rows * slices);
  let n = 0;
  for (let k = 0; k < slices; k++)
    for (let j = 0; j < rows; j++)
      for (let i = 0; i < columns; i++, n++) {
        const [x, y, h] = [origin[0] + i * step, origin[1] + j * step, origin[2] + k * step];
        const d = Math.min(Math.hypot(x, y) - 5, Math.hypot(x - 10, y, h - (low + high) / 2) - 3);
        values[n] = Math.round(-820 + 1200 * Math.max(0, Math.min(1, 0.5 - d / (2 * step))));
      }
  return { values, stack: axialStack(origin, [step, step, step], [columns, rows, slices]) };
}

describe.skipIf(CHROMIUM === undefined)('slices of the scan on the page', { timeout: 60_000 }, () => {
  let browser: Browser;
  let opened: Opened;
  let page: Page;
  beforeAll(async () => {
    browser = await openBrowser();
    const slices = pageScan(scan(), tube.structures, 'LPS')!;
    opened = await openPage(browser, await pageHtml({ ...tube, slices }));
    page = opened.page;
    await page.locator('[data-vessel]').first().click();
    await page.waitForSelector('#slices:not([hidden])');
  }, 60_000);
  afterAll(() => browser?.close());

  /** Red, green and blue at a point of a slice, mm from its centre to the right and down. */
  const at = (id: string, right: number, down: number): Promise<number[]> =>
    page.locator(`#${id}`).evaluate(
      (canvas, [x, y]) => {
        const { width } = canvas as HTMLCanvasElement;
        const ink = (canvas as HTMLCanvasElement).getContext('2d')!;
        const perMm = width / 40;
        return [...ink.getImageData((x + 20) * perMm, (y + 20) * perMm, 1, 1).data].slice(0, 3);
      },
      [right, down],
    );
  const drawn = (): Promise<unknown> =>
    page.evaluate(() => new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done))));
  const walkTo = async (mm: number): Promise<void> => {
    await page.locator('#along-at').evaluate((input, to) => {
      (input as HTMLInputElement).value = String(to);
      input.dispatchEvent(new Event('input', { bubbles: true }));
    }, mm);
    await drawn();
  };

  it('are read from the page itself, without an error or a request', () => {
    expect(opened.complaints).toEqual([]);
    expect(opened.requests).toEqual([]);
  });

  it('show lumen, lung and a neighbour where they are, and follow the point', async () => {
    await walkTo(20);
    const lumen = await at('slice-across', 0, 0);
    const lung = await at('slice-across', 0, 12);
    expect(lumen[0]).toBeGreaterThan(200);
    expect(lung[0]).toBeLessThan(45);
    // seen from the head to the feet with the back downwards, the patient's left is on the left
    expect((await at('slice-across', -10, 0))[0]).toBeGreaterThan(200);
    expect((await at('slice-across', 10, 0))[0]).toBeLessThan(45);
    await walkTo(5);
    expect((await at('slice-across', 10, 0))[0]).toBeLessThan(45);
    expect((await at('slice-across', -10, 0))[0]).toBeLessThan(45);
    expect((await at('slice-across', 0, 0))[0]).toBeGreaterThan(200);
  });

  it('draw the outline of the surface at its radius', async () => {
    await walkTo(12);
    const wall = await at('slice-across', 0, 5);
    expect(Math.max(...wall) - Math.min(...wall)).toBeGreaterThan(60);
    const along = await at('slice-along', 0, 5);
    expect(Math.max(...along) - Math.min(...along)).toBeGreaterThan(60);
  });

  it('say in words what they show, and that they are cropped', async () => {
    expect(await page.locator('#slice-across').getAttribute('aria-label')).toMatch(
      /^Across T: 10\.0 mm calibre/,
    );
    expect(await page.locator('.slices').textContent()).toMatch(
      /million voxels of 0\.\d\d mm.*level −200 HU/,
    );
  });

  it('are absent without a scan', async () => {
    const plain = await pageHtml(tube);
    expect(plain).not.toContain('id="slice-across"');
  });
});

it('the crop stays within its budget', () => {
  const volume = scan();
  const found = pageScan(volume, tube.structures, 'LPS')!;
  expect(found.size[0] * found.size[1] * found.size[2]).toBeLessThanOrEqual(800_000);
  expect(found.tiles.length).toBeLessThan(700_000);
  expect(pageScan(volume, [], 'LPS')).toBeUndefined();
});
