const ZERO = 48;

/** UTF-8 text, written piece by piece into one growing array: a mesh of thousands of rows makes no strings. */
export class ByteText {
  private bytes = new Uint8Array(1 << 16);
  private length = 0;

  text(text: string): this {
    this.makeRoom(3 * text.length);
    const { bytes } = this;
    for (let i = 0; i < text.length; i++) {
      const code = text.charCodeAt(i);
      if (code > 127) {
        this.length += new TextEncoder().encodeInto(text.slice(i), bytes.subarray(this.length)).written;
        return this;
      }
      bytes[this.length++] = code;
    }
    return this;
  }

  /** A whole number from 0 to 2^31 - 1, with zeros in front up to a width. */
  whole(value: number, width = 1): this {
    let digits = width;
    for (let limit = 10 ** width; limit <= value; limit *= 10) digits++;
    this.makeRoom(digits);
    const { bytes } = this;
    let rest = value;
    for (let at = this.length + digits - 1; at >= this.length; at--) {
      const tenth = (rest / 10) | 0;
      bytes[at] = ZERO + rest - 10 * tenth;
      rest = tenth;
    }
    this.length += digits;
    return this;
  }

  /** What was written so far. */
  written(): Uint8Array {
    return this.bytes.subarray(0, this.length);
  }

  private makeRoom(count: number): void {
    if (this.length + count <= this.bytes.length) return;
    const larger = new Uint8Array(2 * (this.length + count));
    larger.set(this.written());
    this.bytes = larger;
  }
}
