import { mulberry32 } from '../../src/foundation/mulberry32.js';

/** Seeded choices: the same seed gives the same mutated input on every machine. */
export class Chance {
  readonly next: () => number;

  constructor(seed: number) {
    this.next = mulberry32(seed);
  }

  /** A whole number from 0 up to but not including `n`. */
  below(n: number): number {
    return Math.floor(this.next() * n);
  }

  of<T>(list: ArrayLike<T>): T {
    return list[this.below(list.length)];
  }
}

type Mutation = (
  bytes: Uint8Array<ArrayBuffer>,
  chance: Chance,
  other: Uint8Array,
) => Uint8Array<ArrayBuffer>;

/** Whole numbers at the limits of their types, and counts that no file of this size can hold. */
const WHOLE = [
  0,
  1,
  2,
  3,
  127,
  128,
  255,
  256,
  32767,
  32768,
  65535,
  65536,
  2 ** 24,
  2 ** 31 - 1,
  2 ** 31,
  2 ** 32 - 1,
];
const REAL = [
  0,
  -0,
  1,
  -1,
  Number.NaN,
  Infinity,
  -Infinity,
  3.4e38,
  -3.4e38,
  1e-38,
  1e-45,
  1e30,
  1e-30,
  1e7,
  1e308,
  -1e308,
  5e-324,
];

/** Words that number, list and text formats may fail on. */
export const WORDS = [
  '0',
  '-0',
  '1',
  '-1',
  '1e308',
  '-1e308',
  '1e309',
  '1e-308',
  '5e-324',
  '3.4e38',
  'nan',
  'inf',
  '.nan',
  '.inf',
  '0x10',
  '1_000',
  '01',
  '+1',
  '1e',
  '.',
  '-',
  '999999999999999999999',
  '4294967295',
  '4294967296',
  '2147483647',
  '-2147483648',
  '9007199254740993',
  'true',
  'false',
  'null',
  '~',
  '[]',
  '{}',
  '[[]]',
  '{a: 1}',
  '""',
  "''",
  '"',
  "'",
  '- ',
  ': ',
  '\n',
  '\r\n',
  '\r',
  '\t',
  '  ',
  '&a ',
  '*a',
  '!!',
  '<<: *a',
  '|',
  '>',
  ',',
  '#',
  '%',
  '\\',
  '\\\n',
  '/',
  '//',
  '<',
  '>',
  '</',
  '<!DOCTYPE a>',
  '<![CDATA[',
  '&lt;',
  '\u0000',
  '\u202e',
  '\ufeff',
  '\ud800',
  '𝄞',
  '2026-13-01',
  '1 mm',
  '1e308 mm',
  '-1 mm',
  '1 parsec',
  '0 kPa',
  '100 %',
  '__proto__',
  'constructor',
  'toString',
  'length',
  '[[[[[[[[[[[[[[[[[[[[',
];

const binary: Mutation[] = [
  (bytes, chance) => {
    for (let n = 1 + chance.below(8); n > 0; n--) bytes[chance.below(bytes.length)] ^= 1 << chance.below(8);
    return bytes;
  },
  (bytes, chance) => bytes.slice(0, chance.below(bytes.length + 1)),
  // numbers, more often in the header, where counts and lengths are
  (bytes, chance) => {
    for (let n = 1 + chance.below(3); n > 0; n--) putNumber(bytes, chance);
    return bytes;
  },
  // a length that is slightly wrong
  (bytes, chance) => {
    const at = place(bytes, chance, 4);
    if (at < 0) return bytes;
    const view = new DataView(bytes.buffer, bytes.byteOffset);
    const little = chance.below(4) > 0;
    const lie = view.getUint32(at, little) + chance.of([-1, 1, 2, -4, 1000, -1000]);
    view.setUint32(at, lie >>> 0, little);
    return bytes;
  },
  (bytes, chance) => {
    const [from, length, to] = [chance.below(bytes.length), chance.below(64), chance.below(bytes.length)];
    return joined(bytes.slice(0, to), bytes.slice(from, from + length), bytes.slice(to));
  },
  (bytes, chance) => {
    const at = chance.below(bytes.length);
    return joined(bytes.slice(0, at), bytes.slice(at + 1 + chance.below(64)));
  },
  (bytes, chance) => {
    const at = chance.below(bytes.length);
    return bytes.fill(chance.of([0, 1, 127, 128, 255]), at, at + 1 + chance.below(64));
  },
  // the head of one file joined to the tail of another
  (bytes, chance, other) =>
    joined(bytes.slice(0, chance.below(bytes.length)), other.slice(chance.below(other.length))),
];

const TOKEN = /[A-Za-z_]\w*|-?\d[\d.]*(?:e[-+]?\d+)?|\s+|[^\s\w]/g;

const textual: Mutation[] = [
  onTokens((tokens, chance) => {
    for (let n = 1 + chance.below(3); n > 0; n--) tokens[chance.below(tokens.length)] = chance.of(WORDS);
  }),
  onTokens((tokens, chance) => {
    for (let n = 1 + chance.below(3); n > 0; n--) {
      const numbers = tokens.flatMap((token, i) => (/^-?\d/.test(token) ? [i] : []));
      if (numbers.length > 0) tokens[chance.of(numbers)] = chance.of(WORDS.slice(0, 28));
    }
  }),
  onTokens((tokens, chance) => {
    const [a, b] = [chance.below(tokens.length), chance.below(tokens.length)];
    [tokens[a], tokens[b]] = [tokens[b], tokens[a]];
  }),
  onTokens((tokens, chance) => {
    tokens.splice(chance.below(tokens.length), 1 + chance.below(6));
  }),
  onTokens((tokens, chance) => {
    const from = chance.below(tokens.length);
    tokens.splice(chance.below(tokens.length), 0, ...tokens.slice(from, from + 1 + chance.below(12)));
  }),
  onLines((lines, chance) => {
    lines.splice(chance.below(lines.length), 1 + chance.below(3));
  }),
  onLines((lines, chance) => {
    const from = chance.below(lines.length);
    lines.splice(chance.below(lines.length), 0, ...lines.slice(from, from + 1 + chance.below(4)));
  }),
  onLines((lines, chance) => {
    const [a, b] = [chance.below(lines.length), chance.below(lines.length)];
    [lines[a], lines[b]] = [lines[b], lines[a]];
  }),
];

/** One to three mutations of a binary file; `other` is a second valid file to splice with. */
export function mutatedBinary(good: Uint8Array, other: Uint8Array, chance: Chance): Uint8Array {
  return mutated(binary, good, other, chance);
}

/** One to three mutations of a text file, occasionally of its bytes. */
export function mutatedText(good: Uint8Array, other: Uint8Array, chance: Chance): Uint8Array {
  return mutated(chance.below(5) === 0 ? binary : textual, good, other, chance);
}

function mutated(kinds: Mutation[], good: Uint8Array, other: Uint8Array, chance: Chance): Uint8Array {
  let bytes = Uint8Array.from(good);
  for (let n = 1 + chance.below(3); n > 0 && bytes.length > 0; n--)
    bytes = chance.of(kinds)(bytes, chance, other);
  return bytes;
}

/** A JSON value with one to three of its nodes replaced, dropped or duplicated; the original stays as it is. */
export function mutatedJson(good: unknown, chance: Chance): unknown {
  const top = { value: structuredClone(good) };
  for (let n = 1 + chance.below(3); n > 0; n--) {
    const places = placesOf(top);
    const [holder, key] = chance.of(places);
    const node = holder as Record<string, unknown>;
    const kind = chance.below(6);
    if (kind === 0 && node !== top) {
      if (Array.isArray(node)) node.splice(Number(key), 1);
      else delete node[key];
    } else if (kind === 1) node[key] = structuredClone(read(chance.of(places)));
    else if (kind === 2 && Array.isArray(node)) node.push(structuredClone(node[Number(key)]));
    else if (kind === 3 && typeof node[key] === 'number')
      node[key] = (node[key] as number) * chance.of([-1, 2, 0.5, 1e10, 1e300]) + chance.of([0, 1, -1]);
    else node[key] = structuredClone(chance.of(VALUES));
  }
  return top.value;
}

const VALUES: unknown[] = [
  null,
  true,
  0,
  -1,
  1,
  1.5,
  1e308,
  -1e308,
  1e-308,
  4294967295,
  2 ** 53,
  '',
  'text',
  '1',
  '__proto__',
  '\u202e\u0000',
  [],
  {},
  [0],
  [null],
  [[]],
  { a: 1 },
  [1e308, 1e308, 1e308],
  'x'.repeat(3000),
];

const read = ([holder, key]: Place): unknown => (holder as Record<string, unknown>)[key];

type Place = [object, string];

function placesOf(holder: object, places: Place[] = []): Place[] {
  for (const [key, value] of Object.entries(holder)) {
    places.push([holder, key]);
    if (typeof value === 'object' && value !== null) placesOf(value, places);
  }
  return places;
}

/** Where a number of this many bytes fits; half of them in the first 400 bytes. */
function place(bytes: Uint8Array, chance: Chance, width: number): number {
  const room = bytes.length - width + 1;
  if (room <= 0) return -1;
  const at = chance.below(chance.below(2) === 0 ? Math.min(room, 400) : room);
  return chance.below(3) === 0 ? at : at - (at % width);
}

function putNumber(bytes: Uint8Array, chance: Chance): void {
  const width = chance.of([1, 2, 4, 8]);
  const at = place(bytes, chance, width);
  if (at < 0) return;
  const view = new DataView(bytes.buffer, bytes.byteOffset);
  const little = chance.below(4) > 0;
  if (width === 1) view.setUint8(at, chance.of(WHOLE));
  else if (width === 2) view.setUint16(at, chance.of(WHOLE), little);
  else if (width === 4 && chance.below(2) === 0) view.setUint32(at, chance.of(WHOLE), little);
  else if (width === 4) view.setFloat32(at, chance.of(REAL), little);
  else view.setFloat64(at, chance.of(REAL), little);
}

function onTokens(change: (tokens: string[], chance: Chance) => void): Mutation {
  return (bytes, chance) => {
    const tokens = Buffer.from(bytes).toString('utf8').match(TOKEN) ?? [''];
    change(tokens, chance);
    return new TextEncoder().encode(tokens.join(''));
  };
}

function onLines(change: (lines: string[], chance: Chance) => void): Mutation {
  return (bytes, chance) => {
    const lines = Buffer.from(bytes).toString('utf8').split('\n');
    change(lines, chance);
    return new TextEncoder().encode(lines.join('\n'));
  };
}

function joined(...parts: Uint8Array[]): Uint8Array<ArrayBuffer> {
  return new Uint8Array(Buffer.concat(parts));
}
