const POWERS = Array.from({ length: 23 }, (_, i) => Number(`1e${i}`));

/** Largest token kept for a message or a name. */
const LONGEST_TOKEN = 512;

/**
 * Reads words separated by white space from bytes, counting lines from 1. The whole file is never converted to a string, so a file longer
 * than the longest string can be read, and numbers are parsed from the bytes.
 */
export class TextScanner {
  /** Line of the word last read. */
  line = 1;
  /** Bounds of the word last read. */
  start = 0;
  end = 0;
  private readonly bytes: Uint8Array;
  private position: number;
  private lineAtPosition = 1;

  constructor(bytes: Uint8Array, position = 0) {
    this.bytes = Buffer.from(bytes.buffer, bytes.byteOffset, bytes.byteLength);
    this.position = position;
  }

  /** Byte offset after the word last read. */
  get offset(): number {
    return this.position;
  }

  /** Goes to the next word; false at the end. */
  next(): boolean {
    const { bytes } = this;
    let p = this.position;
    while (p < bytes.length && bytes[p] <= 32) {
      if (bytes[p] === 10) this.lineAtPosition++;
      p++;
    }
    this.line = this.lineAtPosition;
    this.start = p;
    while (p < bytes.length && bytes[p] > 32) p++;
    this.end = p;
    this.position = p;
    return this.end > this.start;
  }

  /** Goes to the next word of the same line; false at the end of the line. A backslash before the end of a line joins lines. */
  nextOnLine(): boolean {
    const { bytes } = this;
    let p = this.position;
    for (; p < bytes.length && bytes[p] <= 32 && bytes[p] !== 10; p++);
    if (bytes[p] === 92 && (bytes[p + 1] === 10 || (bytes[p + 1] === 13 && bytes[p + 2] === 10))) {
      this.position = p + (bytes[p + 1] === 10 ? 2 : 3);
      this.lineAtPosition++;
      return this.nextOnLine();
    }
    this.start = p;
    while (p < bytes.length && bytes[p] > 32 && !(bytes[p] === 92 && bytes[p + 1] <= 13)) p++;
    this.end = p;
    this.position = p;
    this.line = this.lineAtPosition;
    return this.end > this.start;
  }

  /** The rest of the line as text (UTF-8, broken bytes replaced), at most 512 bytes; moves past it. */
  restOfLine(): string {
    const { bytes } = this;
    let p = this.position;
    while (p < bytes.length && bytes[p] !== 10) p++;
    const text = new TextDecoder().decode(
      bytes.subarray(this.position, Math.min(p, this.position + LONGEST_TOKEN)),
    );
    this.position = p;
    return text.trim();
  }

  /** Offset after the end of the line. */
  skipLine(): void {
    let p = this.bytes.indexOf(10, this.position);
    if (p < 0) p = this.bytes.length;
    this.position = p;
  }

  /** Whether the word is `lower` (ASCII letters, any case). */
  is(lower: string): boolean {
    if (this.end - this.start !== lower.length) return false;
    for (let i = 0; i < lower.length; i++) {
      const c = this.bytes[this.start + i];
      if ((c >= 65 && c <= 90 ? c + 32 : c) !== lower.charCodeAt(i)) return false;
    }
    return true;
  }

  /** The word as text, at most 512 bytes of it. */
  word(): string {
    return new TextDecoder().decode(
      this.bytes.subarray(this.start, Math.min(this.end, this.start + LONGEST_TOKEN)),
    );
  }

  /** The word as a decimal number; NaN if it is not one. */
  number(): number {
    return parseDecimal(this.bytes, this.start, this.end);
  }
}

/** The bytes as text of one character each; fastest from a Buffer. */
function latin1(bytes: Uint8Array, start: number, end: number): string {
  const view = Buffer.isBuffer(bytes) ? bytes : Buffer.from(bytes.buffer, bytes.byteOffset, bytes.byteLength);
  return view.toString('latin1', start, end);
}

/**
 * Decimal number from bytes. Up to 15 digits and a power of ten up to 22 are exact in two steps (Clinger 1990, from
 * memory); anything else uses the language's parser. NaN if it is not a decimal number.
 */
export function parseDecimal(bytes: Uint8Array, start: number, end: number): number {
  let p = start;
  let negative = false;
  if (bytes[p] === 45 || bytes[p] === 43) {
    negative = bytes[p] === 45;
    p++;
  }
  let mantissa = 0;
  let digits = 0;
  let significant = 0;
  let exponent = 0;
  let point = false;
  for (; p < end; p++) {
    const c = bytes[p];
    if (c >= 48 && c <= 57) {
      digits++;
      if (significant > 0 || c !== 48) significant++;
      mantissa = mantissa * 10 + (c - 48);
      if (point) exponent--;
    } else if (c === 46 && !point) point = true;
    else break;
  }
  if (digits === 0) return Number.NaN;
  if (p < end) {
    if (bytes[p] !== 101 && bytes[p] !== 69) return Number.NaN;
    p++;
    let minus = false;
    if (bytes[p] === 45 || bytes[p] === 43) {
      minus = bytes[p] === 45;
      p++;
    }
    if (p >= end) return Number.NaN;
    let e = 0;
    for (; p < end; p++) {
      if (bytes[p] < 48 || bytes[p] > 57) return Number.NaN;
      if (e < 10_000) e = e * 10 + (bytes[p] - 48);
    }
    exponent += minus ? -e : e;
  }
  let value: number;
  if (significant > 15 || exponent > 22 || exponent < -22) {
    if (end - start > LONGEST_TOKEN) return Number.NaN;
    value = Math.abs(Number(latin1(bytes, start, end)));
  } else value = exponent < 0 ? mantissa / POWERS[-exponent] : mantissa * POWERS[exponent];
  return negative ? -value : value;
}
