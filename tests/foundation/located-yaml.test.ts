import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { InputFailure } from '../../src/foundation/failure.js';
import { childPath, decodeYaml, parseLocatedYaml } from '../../src/foundation/located-yaml.js';
import { YAML_LIMITS } from '../../src/foundation/yaml-limits.js';

function refusal(action: () => unknown): InputFailure {
  try {
    action();
  } catch (error) {
    expect(error).toBeInstanceOf(InputFailure);
    return error as InputFailure;
  }
  return expect.unreachable('nothing was refused') as never;
}

const parse = (text: string) => parseLocatedYaml(text, 'f.yaml');
const bytes = (text: string) => new TextEncoder().encode(text);

describe('values and places', () => {
  const text =
    'id: heron\ngases:\n  - name: a\n    po2: 210\n  - { name: b, po2: "28 kPa" }\nempty:\nspare: yes\nlast: 010\n';
  const yaml = parse(text);

  it('keeps YAML 1.2 core values', () => {
    expect(JSON.parse(JSON.stringify(yaml.value))).toEqual({
      id: 'heron',
      gases: [
        { name: 'a', po2: 210 },
        { name: 'b', po2: '28 kPa' },
      ],
      empty: null,
      spare: 'yes',
      last: 10,
    });
  });

  it.each([
    ['id', 'f.yaml:1:5'],
    ['gases', 'f.yaml:3:3'],
    ['gases[0]', 'f.yaml:3:5'],
    ['gases[0].po2', 'f.yaml:4:10'],
    ['gases[1].po2', 'f.yaml:5:21'],
    ['gases[1].pco2', 'f.yaml:5:5'],
    ['gases[7].po2', 'f.yaml:3:3'],
    ['nowhere.at.all', 'f.yaml:1:1'],
    ['', 'f.yaml:1:1'],
  ])('%s is at %s', (path, place) => {
    expect(yaml.locate(path)).toBe(place);
  });

  it('knows keys, sources and values', () => {
    expect(yaml.keyPosition('gases[0].po2')).toEqual({ line: 4, col: 5 });
    expect(yaml.source('last')).toBe('010');
    expect(yaml.source('gases')).toBeUndefined();
    expect(yaml.get('gases[1].name')).toBe('b');
    expect(yaml.get('gases[2]')).toBeUndefined();
  });

  it('skips a UTF-8 byte order mark without moving columns, and reads CRLF lines', () => {
    const marked = parseLocatedYaml(decodeYaml(bytes('\ufeffid: a\r\nb: 2\r\n'), 'f.yaml'), 'f.yaml');
    expect(marked.locate('id')).toBe('f.yaml:1:5');
    expect(marked.locate('b')).toBe('f.yaml:2:4');
  });

  it('reads aliases at the place where they are used', () => {
    const aliased = parse('a: &x { k: 1 }\nb: *x\n');
    expect(aliased.get('b.k')).toBe(1);
    expect(aliased.locate('b')).toBe('f.yaml:2:4');
  });

  it('is not confused by keywords of the language', () => {
    const hostile = parse('__proto__: { polluted: 1 }\nconstructor: 2\n');
    expect(({} as Record<string, unknown>).polluted).toBeUndefined();
    expect(Object.keys(hostile.value as object)).toEqual(['__proto__', 'constructor']);
  });

  it('quotes strange keys in paths', () => {
    expect(childPath('a', 'b c')).toBe('a."b c"');
    expect(childPath('', 'x')).toBe('x');
    expect(childPath('a', 3)).toBe('a[3]');
  });
});

describe('what is refused, with its place', () => {
  it.each([
    ['duplicate key', 'a: 1\nb:\n  c: 1\n  c: 2\n', /^f\.yaml:4:3 b\.c: the key "c" appears here twice/],
    ['tab', 'a:\n\tb: 1\n', /^f\.yaml:2:\d a tab indents|^f\.yaml:2:1 a tab indents/],
    ['two documents', 'a: 1\n---\nb: 2\n', /^f\.yaml:2:1 a second document starts here/],
    ['unclosed bracket', 'a: [1, 2\nb: 1\n', /^f\.yaml:\d:\d+ not valid YAML/],
    ['unclosed quote', 'a: "x\nb: 1\n', /^f\.yaml:\d:\d+ not valid YAML/],
    ['two colons', 'title: a: b\n', /^f\.yaml:1:8 this line contains two colons/],
    ['unknown tag', 'a: !run x\n', /^f\.yaml:1:4 the tag "!run x?"/],
    ['binary tag', 'a: !!binary aGk=\n', /^f\.yaml:1:\d+ the tag/],
    ['another version', '%YAML 1.1\n---\na: yes\n', /^f\.yaml:1:1 the file asks for another YAML version/],
    ['missing anchor', 'a: *b\n', /^f\.yaml:1:4 the alias "\*b" has no anchor/],
    ['number as key', 'a: 1\n2: b\n', /^f\.yaml:2:1 a key must be a word, but this is "2"/],
    ['list as key', '? [a]\n: b\n', /^f\.yaml:1:3 a key must be a word/],
    ['NUL', 'a: 1\nb: x\u0000y\n', /^f\.yaml:2:5 the character U\+0000/],
    ['escape', 'a: \u001b[31m\n', /^f\.yaml:1:4 the character U\+001B/],
    ['byte order mark within the text', 'a: 1\nb: \ufeff2\n', /^f\.yaml:2:4 the character U\+FEFF/],
    [
      'deeply nested flow',
      `a: ${'['.repeat(40)}${']'.repeat(40)}\n`,
      /^f\.yaml:1:3\d the nesting is deeper than 32 levels/,
    ],
    ['deeply nested lists', `${'- '.repeat(40)}x\n`, /^f\.yaml:1:\d+ the nesting is deeper than 32 levels/],
    [
      'deeply nested blocks',
      Array.from({ length: 40 }, (_, i) => `${' '.repeat(i)}a:`).join('\n'),
      /^f\.yaml:\d+:\d+ the nesting is deeper than 32 levels/,
    ],
  ])('%s', (_name, text, message) => {
    const { problems, exitCode } = refusal(() => parse(text));
    expect(problems).toHaveLength(1);
    expect(problems[0]).toMatch(message);
    expect(exitCode).toBe(2);
  });

  it('reports every duplicate key in file order', () => {
    const { problems } = refusal(() => parse('a: 1\na: 2\nb: { c: 1, c: 2 }\na: 3\n'));
    expect(problems.map((line) => line.split(' ')[0])).toEqual(['f.yaml:2:1', 'f.yaml:3:12', 'f.yaml:4:1']);
  });

  it('accepts nesting at the limit', () => {
    const depth = YAML_LIMITS.depth;
    expect(parse(`${'['.repeat(depth)}${']'.repeat(depth)}`).value).toBeInstanceOf(Array);
  });

  it('stops an alias bomb within its budget', () => {
    const bomb = ['a: &a [x,x,x,x,x,x,x,x,x,x]'];
    for (let i = 1; i < 10; i++)
      bomb.push(
        `b${i}: &b${i} [${Array(10)
          .fill(i === 1 ? '*a' : `*b${i - 1}`)
          .join(',')}]`,
      );
    const start = performance.now();
    expect(refusal(() => parse(bomb.join('\n'))).message).toContain('more than 50000 values');
    expect(performance.now() - start).toBeLessThan(2000);
  });

  it('stops an anchor that contains itself', () => {
    expect(refusal(() => parse('a: &a [*a]\n')).message).toMatch(/deeper than 32|has no anchor/);
  });

  it.each([
    ['2 MiB of brackets', '['.repeat(YAML_LIMITS.bytes)],
    ['2 MiB of dashes', '- '.repeat(YAML_LIMITS.bytes / 2)],
    ['2 MiB of colons', ': '.repeat(YAML_LIMITS.bytes / 2)],
    ['2 MiB of short entries', 'a: 1\n'.repeat(Math.floor(YAML_LIMITS.bytes / 5))],
  ])('%s are refused at once', (_name, text) => {
    const start = performance.now();
    refusal(() => parse(text));
    expect(performance.now() - start).toBeLessThan(3000);
  });

  it('refuses a file above the size limit, and accepts one at it', () => {
    const long = (size: number) => `a: "${'x'.repeat(size - 5)}"`;
    expect(parse(long(YAML_LIMITS.bytes)).value).toBeTypeOf('object');
    expect(refusal(() => parse(long(YAML_LIMITS.bytes + 1))).message).toContain(
      'f.yaml:1:1 the file has 2097153 bytes',
    );
    expect(refusal(() => decodeYaml(new Uint8Array(YAML_LIMITS.bytes + 1), 'f.yaml')).message).toContain(
      '2097153',
    );
  });

  it('refuses bytes that are not UTF-8, with their place', () => {
    const latin = Uint8Array.from([...bytes('a: 1\nb: '), 0xe4, 0x0a]);
    expect(refusal(() => decodeYaml(latin, 'f.yaml')).message).toBe(
      'f.yaml:2:4 the text is not UTF-8. Save the file as UTF-8.',
    );
    expect(refusal(() => decodeYaml(Uint8Array.from([0xff, 0xfe, 0x61, 0]), 'f.yaml')).message).toContain(
      'UTF-16',
    );
  });

  it('uses the given exit code', () => {
    expect(refusal(() => parseLocatedYaml('a: [', 's.yaml', { exitCode: 3 })).exitCode).toBe(3);
  });
});

describe('any text at all', () => {
  it('is read or refused, never anything else (seed 11)', () => {
    const text = fc.oneof(
      fc.string({ unit: 'binary', maxLength: 200 }),
      fc.string({ unit: fc.constantFrom(...'ab:-[]{}&*!|>%@`#?,\'"\n\t 01.'), maxLength: 120 }),
    );
    fc.assert(
      fc.property(text, (written) => {
        try {
          const yaml = parse(written);
          return /^f\.yaml:\d+:\d+$/.test(yaml.locate('a[0].b'));
        } catch (error) {
          return (
            error instanceof InputFailure && error.problems.every((line) => /^f\.yaml:\d+:\d+ /.test(line))
          );
        }
      }),
      { seed: 11, numRuns: 4000 },
    );
  });

  it('any bytes too (seed 12)', () => {
    fc.assert(
      fc.property(fc.uint8Array({ maxLength: 300 }), (raw) => {
        try {
          parse(decodeYaml(raw, 'f.yaml'));
          return true;
        } catch (error) {
          return error instanceof InputFailure;
        }
      }),
      { seed: 12, numRuns: 3000 },
    );
  });
});
