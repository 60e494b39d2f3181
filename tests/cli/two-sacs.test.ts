import { cpSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { afterAll, describe, expect, it } from 'vitest';
import { pavm } from './run-pavm.js';

const base = mkdtempSync(join(tmpdir(), 'pavm-two-sacs-'));
afterAll(() => rmSync(base, { recursive: true, force: true }));

/** A binary STL file moved along x, mm. */
function moved(bytes: Buffer, byMm: number): Buffer {
  const out = Buffer.from(bytes);
  for (let t = 84; t + 50 <= bytes.length; t += 50)
    for (let corner = 0; corner < 3; corner++) {
      const at = t + 12 + 12 * corner;
      out.writeFloatLE(bytes.readFloatLE(at) + byMm, at);
    }
  return out;
}

describe('a case with two sacs', () => {
  it('stops, and the print contains no bar that joins a vessel to one of them', () => {
    const folder = join(base, 'case');
    cpSync(fileURLToPath(new URL('../../cases/wren', import.meta.url)), folder, { recursive: true });
    const [file, sac] = [join(folder, 'case.yaml'), join(folder, 'meshes/sac.stl')];
    const text = readFileSync(file, 'utf8');
    const twice = text.replace(
      '    - { name: V1,',
      '    - { name: other, role: sac, mesh: meshes/other.stl }\n    - { name: V1,',
    );
    expect(twice).not.toBe(text);
    writeFileSync(file, twice.replace(/expected:[\s\S]*/, ''));
    // Neither sac lies where the vessels end, so a bar to either would be invented.
    const bytes = readFileSync(sac);
    writeFileSync(join(folder, 'meshes/other.stl'), moved(bytes, 40));
    writeFileSync(sac, moved(bytes, -40));
    const ran = pavm(['print', folder, '--out', join(base, 'print')]);
    expect(ran.code).toBe(1);
    expect(ran.stderr).toMatch(/stop [^\n]*2 structures have the role sac/);
    expect(ran.stderr).not.toMatch(/stops short of what it joins|a bar of its own calibre/);
  });
});
