import { tenTo } from '../foundation/power.js';

const ZERO = 48;

/** UTF-8 text, written piece by piece into one growing array, so that a mesh of thousands of rows creates no strings. */
export class ByteText {
  private bytes = new Uint8Array(1 << 16);
  private length = 0;

  text(text: string): this {
    const bytes = this.withRoomFor(3 * text.length);
    let at = this.length;
    for (let i = 0; i < text.length; i++) {
      const code = text.charCodeAt(i);
      if (code > 127) {
        at += new TextEncoder().encodeInto(text.slice(i), bytes.subarray(at)).written;
        break;
      }
      bytes[at++] = code;
    }
    this.length = at;
    return this;
  }

  /** A whole number from 0 to 2^31 - 1, padded with zeros to a width. */
  whole(value: number, width = 1): this {
    let digits = width;
    for (let limit = tenTo(width); limit <= value; limit *= 10) digits++;
    const bytes = this.withRoomFor(digits);
    this.length += digits;
    let rest = value;
    for (let at = this.length - 1; at >= this.length - digits; at--) {
      const tenth = (rest / 10) | 0;
      bytes[at] = ZERO + rest - 10 * tenth;
      rest = tenth;
    }
    return this;
  }

  /** Bytes of UTF-8 text. */
  add(text: Uint8Array): this {
    this.withRoomFor(text.length).set(text, this.length);
    this.length += text.length;
    return this;
  }

  /** The text written so far. */
  written(): Uint8Array {
    return this.bytes.subarray(0, this.length);
  }

  private withRoomFor(count: number): Uint8Array {
    if (this.length + count > this.bytes.length) {
      const larger = new Uint8Array(2 * (this.length + count));
      larger.set(this.written());
      this.bytes = larger;
    }
    return this.bytes;
  }
}
