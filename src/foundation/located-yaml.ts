/**
 * YAML 1.2 core with positions, for files written by hand and files that may be hostile.
 *
 * Rejected, each with file, line and column: text that is not UTF-8, control characters, files above a size, nesting above a depth, more
 * than a number of values (which also stops alias bombs), duplicate keys, keys that are not text, several documents, tags, another YAML
 * version, and everything that the parser itself reports as an error. A UTF-8 byte order mark at the very start is allowed by YAML 1.2
 * (5.2) and skipped.
 *
 * Nesting is counted on the tokens before the parser runs: with 2 million open brackets the parser ended the process (call stack, then
 * memory), so catching its error is not enough.
 */
import {
  CST,
  type Document,
  isAlias,
  isMap,
  isScalar,
  isSeq,
  Lexer,
  LineCounter,
  type Node,
  parseDocument,
  type YAMLError,
} from 'yaml';
import { InputFailure } from './failure.js';
import { quoted } from './quoted-text.js';
import { YAML_LIMITS, type YamlLimits } from './yaml-limits.js';

export type YamlValue = string | number | boolean | null | YamlValue[] | { [key: string]: YamlValue };

export interface Position {
  line: number;
  col: number;
}

/** A parsed document: plain values, and the place of each. Paths look like `gases[0].po2`; the root is ''. */
export interface LocatedYaml {
  value: YamlValue;
  /** `FILE:LINE:COLUMN` of a path, or of its nearest parent that exists. */
  locate(path: string): string;
  position(path: string): Position;
  /** The place of the key of a mapping entry; for a list item that of its value. */
  keyPosition(path: string): Position;
  /** The value at a path; undefined if the file has none. */
  get(path: string): YamlValue | undefined;
  /** A scalar as written (`010`, `1.0`), undefined for lists and mappings. */
  source(path: string): string | undefined;
  /** Ignored parts, in file order, each as a sentence: a key that appears twice (the first counts), a tag, an alias without anchor. */
  readonly slips: readonly { at: Position; text: string }[];
}

export interface YamlOptions {
  /** 2 for a case file, 3 for an input such as a shelf. */
  exitCode?: 2 | 3;
  limits?: YamlLimits;
  /** Keep mistakes that do not prevent reading, instead of throwing, for a caller that reports them with its own problems. */
  keepSlips?: boolean;
}

const CORE_TAG = /^tag:yaml\.org,2002:(?:str|int|float|bool|null|map|seq)$/;
const PLAIN_KEY = /^[A-Za-z0-9_-]{1,64}$/;

/** The path of an entry below `parent`: `gases` + 0 -> `gases[0]`, `gases[0]` + `po2` -> `gases[0].po2`. */
export function childPath(parent: string, key: string | number): string {
  if (typeof key === 'number') return `${parent}[${key}]`;
  const name = PLAIN_KEY.test(key) ? key : quoted(key);
  return parent === '' ? name : `${parent}.${name}`;
}

/**
 * Decodes UTF-8. Throws InputFailure with the position of the first byte that is not UTF-8, or with the size if `bytes` is above the limit.
 */
export function decodeYaml(bytes: Uint8Array, fileName: string, options: YamlOptions = {}): string {
  const { exitCode = 2, limits = YAML_LIMITS } = options;
  if (bytes.length > limits.bytes) {
    throw new InputFailure(exitCode, tooLarge(fileName, bytes.length, limits.bytes));
  }
  if ((bytes[0] === 0xff && bytes[1] === 0xfe) || (bytes[0] === 0xfe && bytes[1] === 0xff)) {
    throw new InputFailure(exitCode, `${fileName}:1:1 the file is UTF-16. Save it as UTF-8.`);
  }
  try {
    return new TextDecoder('utf-8', { fatal: true, ignoreBOM: true }).decode(bytes);
  } catch {
    const { line, col } = firstBadByte(bytes);
    throw new InputFailure(
      exitCode,
      `${fileName}:${line}:${col} the text is not UTF-8. Save the file as UTF-8.`,
    );
  }
}

function tooLarge(fileName: string, size: number, limit: number): string {
  return `${fileName}:1:1 the file has ${size} bytes; at most ${limit} are read. Keep data in files of their own.`;
}

function firstBadByte(bytes: Uint8Array): Position {
  // The decoder writes a replacement character for an error; one that is in the file is 3 bytes of valid UTF-8.
  const decoder = new TextDecoder('utf-8', { fatal: true, ignoreBOM: true });
  let line = 1;
  let start = 0;
  for (let i = 0; i <= bytes.length; i++) {
    if (i < bytes.length && bytes[i] !== 0x0a) continue;
    try {
      decoder.decode(bytes.subarray(start, i));
    } catch {
      const readable = new TextDecoder('utf-8').decode(bytes.subarray(start, i));
      return { line, col: Math.max(0, readable.indexOf('\ufffd')) + 1 };
    }
    line++;
    start = i + 1;
  }
  return { line: 1, col: 1 };
}

/**
 * Parses one YAML 1.2 document. Throws InputFailure: one line for a syntax error (the first; later ones are its consequences),
 * or one line per duplicate or impossible key.
 */
export function parseLocatedYaml(text: string, fileName: string, options: YamlOptions = {}): LocatedYaml {
  const { exitCode = 2, limits = YAML_LIMITS, keepSlips = false } = options;
  const refuse = (offset: number, problem: string): never => {
    const { line, col } = positionOf(text, offset);
    throw new InputFailure(exitCode, `${fileName}:${line}:${col} ${problem}`);
  };
  const size = text.length > limits.bytes ? text.length : Buffer.byteLength(text);
  if (size > limits.bytes) throw new InputFailure(exitCode, tooLarge(fileName, size, limits.bytes));
  refuseCharacters(text, refuse);
  refuseDepth(text, limits, refuse);

  const lines = new LineCounter();
  const document = parseDocument(text, {
    lineCounter: lines,
    prettyErrors: false,
    uniqueKeys: false,
    version: '1.2',
    schema: 'core',
    merge: false,
    logLevel: 'error', // 'silent' would also silence the second document
  });
  const first = [...document.errors, ...document.warnings].sort((a, b) => a.pos[0] - b.pos[0])[0];
  if (first) refuse(first.pos[0], syntaxProblem(first, text));
  const { version, explicit } = document.directives?.yaml ?? {};
  if (explicit && version !== '1.2')
    refuse(0, 'the file asks for another YAML version. This program reads YAML 1.2: delete the %YAML line.');

  const walk = new Walk(document, limits, refuse);
  const value = document.contents === null ? null : walk.value(document.contents, '', 0, 0);
  const at = (offset: number): Position => {
    const { line, col } = lines.linePos(offset);
    return {
      line: Math.max(1, line),
      col: Math.max(1, line === 1 && text.startsWith('\ufeff') ? col - 1 : col),
    };
  };
  const slips = walk.problems
    .sort((a, b) => a.offset - b.offset)
    .map(({ offset, text: problem }) => ({ at: at(offset), text: problem }));
  if (slips.length > 0 && !keepSlips) {
    throw new InputFailure(
      exitCode,
      slips.map((slip) => `${fileName}:${slip.at.line}:${slip.at.col} ${slip.text}`),
    );
  }
  const position = (path: string): Position => at(nearest(walk.places, path)?.value ?? 0);
  return {
    value,
    position,
    keyPosition: (path) => {
      const place = nearest(walk.places, path);
      return at(place?.key ?? place?.value ?? 0);
    },
    locate: (path) => {
      const { line, col } = position(path);
      return `${fileName}:${line}:${col}`;
    },
    get: (path) => walk.places.get(path)?.data,
    source: (path) => walk.places.get(path)?.source,
    slips,
  };
}

interface Place {
  value: number;
  key?: number;
  source?: string;
  data?: YamlValue;
}

function nearest(places: Map<string, Place>, path: string): Place | undefined {
  let current = path;
  for (;;) {
    const place = places.get(current);
    if (place || current === '') return place;
    const cut = Math.max(current.lastIndexOf('.'), current.lastIndexOf('['));
    current = cut <= 0 ? '' : current.slice(0, cut);
  }
}

/** Turns nodes into plain values, records the place of each, and enforces the limits. */
class Walk {
  readonly places = new Map<string, Place>();
  readonly problems: { offset: number; text: string }[] = [];
  private count = 0;
  private readonly document: Document;
  private readonly limits: YamlLimits;
  private readonly refuse: (offset: number, problem: string) => never;

  constructor(document: Document, limits: YamlLimits, refuse: (offset: number, problem: string) => never) {
    this.document = document;
    this.limits = limits;
    this.refuse = refuse;
  }

  value(node: Node | null, path: string, depth: number, fallback: number, key?: number): YamlValue {
    const data = this.read(node, path, depth, fallback, key);
    const place = this.places.get(path);
    if (place) place.data = data;
    return data;
  }

  private read(node: Node | null, path: string, depth: number, fallback: number, key?: number): YamlValue {
    const offset = node?.range?.[0] ?? fallback;
    if (++this.count > this.limits.values) {
      this.refuse(
        offset,
        `the file contains more than ${this.limits.values} values, aliases counted as often as they are used.`,
      );
    }
    if (depth > this.limits.depth)
      this.refuse(offset, `the nesting is deeper than ${this.limits.depth} levels.`);
    const place: Place = { value: offset, key };
    this.places.set(path, place);
    if (node === null) return null;
    if (!isAlias(node) && node.tag !== undefined && !CORE_TAG.test(node.tag)) {
      this.problems.push({
        offset,
        text: `the tag ${quoted(String(node.tag))} is not used here. Delete it.`,
      });
    }
    if (isAlias(node)) {
      const target = node.resolve(this.document);
      if (target === undefined) {
        this.problems.push({
          offset,
          text: `the alias ${quoted(`*${node.source}`)} has no anchor before it.`,
        });
        return null;
      }
      const value = this.value(target as Node, path, depth + 1, offset, key);
      this.places.set(path, { ...place, source: this.places.get(path)?.source });
      return value;
    }
    if (isSeq(node)) {
      return node.items.map((item, i) =>
        this.value(item as Node | null, childPath(path, i), depth + 1, offset),
      );
    }
    if (isMap(node))
      return this.mapping(node.items as { key: unknown; value: unknown }[], path, depth, offset);
    if (isScalar(node)) {
      place.source = node.source ?? String(node.value);
      return scalarValue(node.value);
    }
    return null;
  }

  private mapping(
    items: { key: unknown; value: unknown }[],
    path: string,
    depth: number,
    offset: number,
  ): YamlValue {
    const result: { [key: string]: YamlValue } = Object.create(null);
    for (const item of items) {
      const key = item.key;
      const keyOffset = (key as Node | null)?.range?.[0] ?? offset;
      if (!isScalar(key) || typeof key.value !== 'string') {
        const shown = isScalar(key) ? quoted(key.source ?? String(key.value)) : 'a list or mapping';
        this.problems.push({ offset: keyOffset, text: `a key must be a word, but this is ${shown}.` });
        continue;
      }
      const below = childPath(path, key.value);
      if (key.value in result) {
        this.problems.push({
          offset: keyOffset,
          text: `${below}: the key ${quoted(key.value)} appears here twice. Keep one of them.`,
        });
        continue;
      }
      result[key.value] = this.value(item.value as Node | null, below, depth + 1, keyOffset, keyOffset);
    }
    return result;
  }
}

function scalarValue(value: unknown): YamlValue {
  if (value === null || typeof value === 'boolean' || typeof value === 'number') return value;
  return String(value);
}

function syntaxProblem(error: YAMLError, text: string): string {
  const start = text.slice(error.pos[0], error.pos[0] + 20).split(/[\r\n]/)[0];
  switch (error.code) {
    case 'MULTIPLE_DOCS':
      return 'a second document starts here ("---"). Keep one document in the file.';
    case 'TAB_AS_INDENT':
      return 'a tab indents this line. Indent with spaces.';
    case 'TAG_RESOLVE_FAILED':
      return `the tag ${quoted(start)} is not used here. Delete it.`;
    case 'BLOCK_AS_IMPLICIT_KEY':
      return 'this line contains two colons that look like keys. Put the text after the first colon in quotes.';
    case 'MISSING_CHAR':
    case 'BAD_INDENT':
    case 'UNEXPECTED_TOKEN':
      return `not valid YAML: ${oneLine(error.message)}. Check the quotes, brackets and indentation up to here.`;
    default:
      return `not valid YAML: ${oneLine(error.message)}.`;
  }
}

function oneLine(message: string): string {
  const shown = quoted(message.split('\n')[0], 160).slice(1, -1);
  return shown.replace(/[.:]$/, '');
}

function positionOf(text: string, offset: number): Position {
  let line = 1;
  let start = text.startsWith('\ufeff') ? 1 : 0;
  for (let i = text.indexOf('\n'); i >= 0 && i < offset; i = text.indexOf('\n', i + 1)) {
    line++;
    start = i + 1;
  }
  return { line, col: Math.max(1, offset - start + 1) };
}

/** Outside YAML 1.2's printable set (5.1), or a byte order mark that is not at the start. */
const UNPRINTABLE = /[^\t\n\r -~\u0085\u00a0-\ud7ff\ue000-\ufefe\uff00-\ufffd\u{10000}-\u{10ffff}]/u;

function refuseCharacters(text: string, refuse: (offset: number, problem: string) => never): void {
  const start = text.startsWith('\ufeff') ? 1 : 0;
  const offset = text.slice(start).search(UNPRINTABLE);
  if (offset < 0) return;
  const code = text.codePointAt(offset + start) ?? 0;
  refuse(
    offset + start,
    `the character U+${code.toString(16).toUpperCase().padStart(4, '0')} is not allowed in a text file. Delete it.`,
  );
}

const MARKERS = new Set<string>([CST.DOCUMENT, CST.FLOW_END, CST.SCALAR]);

/** Counts nesting and tokens without building anything; stops at the first token past a limit. */
function refuseDepth(
  text: string,
  limits: YamlLimits,
  refuse: (offset: number, problem: string) => never,
): void {
  let offset = 0;
  let flow = 0;
  let inLine = 0;
  let tokens = 0;
  const deep = () => refuse(offset, `the nesting is deeper than ${limits.depth} levels.`);
  for (const token of new Lexer().lex(text)) {
    if (++tokens > 8 * limits.values) refuse(offset, `the file contains more than ${limits.values} values.`);
    if (token === '[' || token === '{') {
      if (++flow > limits.depth) deep();
    } else if (token === ']' || token === '}') flow--;
    else if (token === '\n' || token === '\r\n') inLine = 0;
    else if (flow === 0 && (token === '-' || token === '?' || token === ':')) {
      if (++inLine > limits.depth) deep();
    } else if (flow === 0 && token.length > 4 * limits.depth && /^ +$/.test(token)) deep();
    // The lexer marks document start, flow-mode ends and scalars with one control character that is not in the text.
    if (!MARKERS.has(token)) offset += token.length;
  }
}
