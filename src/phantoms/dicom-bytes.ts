/** Elements of a data set: tag, value representation, value; a list of data sets is a sequence. */
export type Element = [tag: number, vr: string, value: string | number | Uint8Array | Element[][]];

const LONG = new Set(['OB', 'OW', 'SQ', 'UN', 'UT']);
/** Text of one byte per character. */
export const latin = (text: string): Uint8Array => Uint8Array.from(text, (c) => c.charCodeAt(0));

export function joined(...parts: Uint8Array[]): Uint8Array {
  const bytes = new Uint8Array(parts.reduce((sum, { length }) => sum + length, 0));
  let at = 0;
  for (const part of parts) {
    bytes.set(part, at);
    at += part.length;
  }
  return bytes;
}

/** One element in explicit little endian (DICOM PS3.5 7.1). */
function encoded([tag, vr, value]: Element): Uint8Array {
  const body = padded(bodyOf(vr, value), vr);
  const head = new Uint8Array(LONG.has(vr) ? 12 : 8);
  const view = new DataView(head.buffer);
  view.setUint16(0, tag >>> 16, true);
  view.setUint16(2, tag & 0xffff, true);
  head.set(latin(vr), 4);
  if (LONG.has(vr)) view.setUint32(8, body.length, true);
  else view.setUint16(6, body.length, true);
  return joined(head, body);
}

function bodyOf(vr: string, value: Element[2]): Uint8Array {
  if (value instanceof Uint8Array) return value;
  if (Array.isArray(value))
    return joined(
      ...value.map((set) => {
        const inner = dataSet(set);
        const head = new Uint8Array(8);
        const view = new DataView(head.buffer);
        view.setUint16(0, 0xfffe, true);
        view.setUint16(2, 0xe000, true);
        view.setUint32(4, inner.length, true);
        return joined(head, inner);
      }),
    );
  if (vr === 'US' || vr === 'SS') return new Uint8Array(Int16Array.of(Number(value)).buffer);
  if (vr === 'UL') return new Uint8Array(Int32Array.of(Number(value)).buffer);
  return latin(String(value));
}

function padded(body: Uint8Array, vr: string): Uint8Array {
  if (body.length % 2 === 0) return body;
  return joined(body, Uint8Array.of(vr === 'UI' || vr === 'OB' || vr === 'OW' ? 0 : 32));
}

const dataSet = (elements: readonly Element[]): Uint8Array =>
  joined(...[...elements].sort((a, b) => a[0] - b[0]).map(encoded));

const EXPLICIT = '1.2.840.10008.1.2.1';
export const CT_IMAGE = '1.2.840.10008.5.1.4.1.1.2';

/** A DICOM file (PS3.10) of these elements; later elements of the list override earlier ones. */
export function dicomFile(elements: readonly Element[], syntax = EXPLICIT): Uint8Array {
  const byTag = new Map(elements.map((e) => [e[0], e]));
  const meta = joined(
    ...(
      [
        [0x00020001, 'OB', Uint8Array.of(0, 1)],
        [0x00020002, 'UI', String(byTag.get(0x00080016)?.[2] ?? CT_IMAGE)],
        [0x00020003, 'UI', String(byTag.get(0x00080018)?.[2] ?? '2.25.1')],
        [0x00020010, 'UI', syntax],
        [0x00020012, 'UI', '2.25.2'],
      ] satisfies Element[]
    ).map(encoded),
  );
  const preamble = new Uint8Array(132);
  preamble.set(latin('DICM'), 128);
  return joined(preamble, encoded([0x00020000, 'UL', meta.length]), meta, dataSet([...byTag.values()]));
}
