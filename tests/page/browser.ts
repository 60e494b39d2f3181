import { existsSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { pathToFileURL } from 'node:url';
import { type Browser, type BrowserContextOptions, chromium, type Page } from 'playwright-core';

const PLACES = ['/usr/bin/chromium', '/usr/bin/chromium-browser', '/usr/bin/google-chrome'];

/** Path of a browser on this machine; undefined if there is none. */
export const CHROMIUM: string | undefined = [process.env.PAVM_CHROMIUM, ...PLACES].find(
  (path) => path !== undefined && existsSync(path),
);

if (CHROMIUM === undefined)
  process.stderr.write(
    '\n*** NO CHROMIUM HERE: the page is not tested in a browser. Install it: apt-get install chromium ***\n\n',
  );

/** Software rendering, as on a machine without a graphics card. */
const SOFTWARE = [
  '--no-sandbox',
  '--use-angle=swiftshader',
  '--enable-unsafe-swiftshader',
  '--ignore-gpu-blocklist',
];

export const openBrowser = (flags: readonly string[] = SOFTWARE): Promise<Browser> =>
  chromium.launch({ executablePath: CHROMIUM, args: [...flags] });

const folder = mkdtempSync(join(tmpdir(), 'pavm-page-'));
process.on('exit', () => rmSync(folder, { recursive: true, force: true }));

/** A page opened from disk, with everything it reported or requested. */
export interface Opened {
  page: Page;
  /** Console messages of level warning or error, page errors, dialogs. */
  complaints: string[];
  /** Requests for anything but the file itself and the pictures inside it. */
  requests: string[];
}

let count = 0;

/** Writes the page to a file and opens it from there. */
export async function openPage(
  browser: Browser,
  html: string,
  options: BrowserContextOptions = {},
): Promise<Opened> {
  const file = join(folder, `page-${count++}.html`);
  writeFileSync(file, html);
  const context = await browser.newContext({
    viewport: { width: 1360, height: 860 },
    reducedMotion: 'reduce',
    ...options,
  });
  const page = await context.newPage();
  const complaints: string[] = [];
  const requests: string[] = [];
  page.on('console', (message) => {
    if (['error', 'warning'].includes(message.type())) complaints.push(message.text());
  });
  page.on('pageerror', (error) => complaints.push(String(error)));
  page.on('dialog', (dialog) => {
    complaints.push(`dialog ${dialog.message()}`);
    void dialog.dismiss();
  });
  const own = pathToFileURL(file).href;
  page.on('request', (request) => {
    if (request.url() !== own && !request.url().startsWith('data:')) requests.push(request.url());
  });
  await page.goto(own);
  await page.waitForFunction(() => document.documentElement.dataset.ready !== undefined);
  return { page, complaints, requests };
}

export interface CameraView {
  lao: number;
  cranial: number;
  heightMm: number;
}

/** The viewing direction of the picture, as the page writes it with each drawing. */
export async function cameraView(page: Page): Promise<CameraView> {
  await page.evaluate(() => new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done))));
  const text = await page.locator('#scene').getAttribute('data-looking');
  const [lao, cranial, heightMm] = (text ?? '').split(' ').map(Number);
  return { lao, cranial, heightMm };
}

export type Hue = 'blue' | 'vermilion' | 'purple' | 'any';

/** Pixels of each colour in the picture on the screen, without names. */
export async function pixels(page: Page): Promise<Record<Hue, number>> {
  const found = await colours(page);
  return {
    blue: found.blue.count,
    vermilion: found.vermilion.count,
    purple: found.purple.count,
    any: found.any.count,
  };
}

/** How many pixels of each colour, and their centroid, in pixels from the upper left corner. */
export async function colours(page: Page): Promise<Record<Hue, { count: number; x: number; y: number }>> {
  await page.evaluate(() => document.querySelector('.over')?.classList.add('quiet'));
  await cameraView(page);
  const shot = await page.locator('#scene').screenshot();
  await page.evaluate(() => document.querySelector('.over')?.classList.remove('quiet'));
  return page.evaluate(
    async (address) => {
      const image = new Image();
      image.src = address;
      await image.decode();
      const canvas = document.createElement('canvas');
      canvas.width = image.width;
      canvas.height = image.height;
      const ink = canvas.getContext('2d');
      if (!ink) throw new Error('no canvas');
      ink.drawImage(image, 0, 0);
      const wide = image.width - 8;
      const { data } = ink.getImageData(4, 4, wide, image.height - 8);
      const none = (): { count: number; x: number; y: number } => ({ count: 0, x: 0, y: 0 });
      const found = { blue: none(), vermilion: none(), purple: none(), any: none() };
      for (let i = 0; i < data.length; i += 4) {
        const [r, g, b] = [data[i], data[i + 1], data[i + 2]];
        const take = (one: { count: number; x: number; y: number }): void => {
          one.count++;
          one.x += (i / 4) % wide;
          one.y += Math.floor(i / 4 / wide);
        };
        if (r + g + b < 720) take(found.any);
        if (b > r + 50 && b > 60) take(found.blue);
        else if (r > b + 70 && r > g + 50) take(found.vermilion);
        else if (r > g + 35 && b > g + 15) take(found.purple);
      }
      for (const one of Object.values(found)) {
        one.x /= Math.max(1, one.count);
        one.y /= Math.max(1, one.count);
      }
      return found;
    },
    `data:image/png;base64,${shot.toString('base64')}`,
  );
}
