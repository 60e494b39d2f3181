import { readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { findingsOfProgram, findingsOfText } from './finding-ids.js';

const ROOT = new URL('../../', import.meta.url);
const made = findingsOfProgram();

interface Row {
  id: string;
  levels: string[];
  cause: string;
  cure: string;
}

/** Rows of the table below "## Finding ids". Rows without an id in backticks are subject headings. */
function tableRows(): Row[] {
  const text = readFileSync(new URL('DEVELOPERS.md', ROOT), 'utf8');
  const section = text.split(/^## Finding ids$/m)[1]?.split(/^## /m)[0] ?? '';
  return section.split('\n').flatMap((line) => {
    const cells = line.split('|').map((cell) => cell.trim());
    const id = /^`([a-z0-9-]+)`$/.exec(cells[1] ?? '')?.[1];
    if (id === undefined) return [];
    return [{ id, levels: cells[2].split(', '), cause: cells[3], cure: cells[4] }];
  });
}

const rows = tableRows();

describe('the ids of findings in DEVELOPERS.md', () => {
  it('the source was searched', () => {
    expect(made.size).toBeGreaterThan(100);
    expect(rows.length).toBeGreaterThan(100);
  });

  it('every finding that the code or a rule makes is in the table', () => {
    const listed = new Set(rows.map((row) => row.id));
    const missing = [...made]
      .filter(([id]) => !listed.has(id))
      .map(([id, { at }]) => `${id} (${at.join(', ')})`);
    expect(missing).toEqual([]);
  });

  it('the table names no finding that nothing makes, and none twice', () => {
    expect(rows.map((row) => row.id).filter((id) => !made.has(id))).toEqual([]);
    expect(rows.map((row) => row.id).filter((id, i, ids) => ids.indexOf(id) !== i)).toEqual([]);
  });

  it.each(rows)('$id: levels as in the code, a cause and a cure', ({ id, levels, cause, cure }) => {
    expect(levels.toSorted()).toEqual([...(made.get(id)?.levels ?? [])].toSorted());
    expect(cause).toMatch(/\w.*\.$/);
    expect(cure).toMatch(/\w.*\.$/);
  });
});

describe('the search itself', () => {
  const read = (text: string): string[] =>
    [...findingsOfText(text, 'x.ts')].map(([id, { levels }]) => `${id}: ${[...levels].join(', ')}`);

  it('reads literals, choices, constants and local functions', () => {
    expect(read(`finding('note', 'a-b', w, t)`)).toEqual(['a-b: note']);
    expect(read(`finding(bad ? 'stop' : 'caution', good ? 'a' : 'b', w, t)`)).toEqual([
      'a: stop, caution',
      'b: stop, caution',
    ]);
    expect(read(`finding(bad ? 'stop' : 'caution', bad ? 'a' : 'b', w, t)`)).toEqual([
      'a: stop',
      'b: caution',
    ]);
    expect(read(`const id = 'c-d'; finding('caution', id, w, t)`)).toEqual(['c-d: caution']);
    expect(read(`const say = (level, id, text) => finding(level, id, w, text); say('stop', 'e', t)`)).toEqual(
      ['e: stop'],
    );
  });

  it('fails on an id that cannot be read', () => {
    expect(() => read(`finding('note', \`new-\${x}\`, w, t)`)).toThrow('cannot be read');
    expect(() => read(`finding('note', names[0], w, t)`)).toThrow('cannot be read');
  });
});
