import { mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, expect, it } from 'vitest';
import { folderHash, pavm } from '../cli/run-pavm.js';

const work = mkdtempSync(join(tmpdir(), 'pavm-page-command-'));
afterAll(() => rmSync(work, { recursive: true, force: true }));

it('plan writes page.html; with --html also plan.html, the rest unchanged', () => {
  const [plain, withHtml] = [join(work, 'plain'), join(work, 'html')];
  expect(pavm(['plan', 'cases/wren', '--out', plain]).code).toBe(0);
  expect(pavm(['plan', 'cases/wren', '--out', withHtml, '--html']).code).toBe(0);
  const [a, b] = [folderHash(plain), folderHash(withHtml)];
  expect(a.some((line) => line.startsWith('page.html '))).toBe(true);
  expect(b.filter((line) => !a.includes(line)).map((line) => line.split(' ')[0])).toEqual([
    'outputs.json',
    'plan.html',
  ]);
  const html = readFileSync(join(withHtml, 'plan.html'), 'utf8');
  expect(html).toContain('Risk checklist');
  expect(html).toContain('<svg');
  expect(html).not.toMatch(/<script|<img/);
  expect(html + readFileSync(join(withHtml, 'page.html'), 'utf8')).not.toContain(work);
});
