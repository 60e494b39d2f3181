// Writes a CT series of one slice repeated: a chest-like picture with noise, packed as requested.
import { execFileSync } from 'node:child_process';
import { createRequire } from 'node:module';
import { readFileSync } from 'node:fs';
import { join } from 'node:path';

const require = createRequire(import.meta.url);

function element(tag, vr, value) {
  const body =
    typeof value === 'number' ? Buffer.from(Uint16Array.of(value).buffer) : Buffer.from(value, 'latin1');
  const even = body.length % 2 ? Buffer.concat([body, Buffer.from(vr === 'UI' ? '\0' : ' ')]) : body;
  const head = Buffer.alloc(vr === 'OW' ? 12 : 8);
  head.writeUInt16LE(tag >>> 16, 0);
  head.writeUInt16LE(tag & 0xffff, 2);
  head.write(vr, 4, 'latin1');
  if (vr === 'OW') head.writeUInt32LE(even.length, 8);
  else head.writeUInt16LE(even.length, 6);
  return Buffer.concat([head, even]);
}

function slice(k, columns, rows, pixels, syntax) {
  const meta = Buffer.concat([
    element(0x00020002, 'UI', '1.2.840.10008.5.1.4.1.1.2'),
    element(0x00020003, 'UI', `2.25.${k + 1}`),
    element(0x00020010, 'UI', syntax),
  ]);
  const length = Buffer.alloc(12);
  length.writeUInt16LE(2, 0);
  length.write('UL', 4, 'latin1');
  length.writeUInt16LE(4, 6);
  length.writeUInt32LE(meta.length, 8);
  return Buffer.concat([
    Buffer.alloc(128),
    Buffer.from('DICM'),
    length,
    meta,
    element(0x00080016, 'UI', '1.2.840.10008.5.1.4.1.1.2'),
    element(0x00080018, 'UI', `2.25.${k + 1}`),
    element(0x00080060, 'CS', 'CT'),
    element(0x0020000e, 'UI', '2.25.9999'),
    element(0x00200032, 'DS', `-180\\-180\\${(k * 0.5).toFixed(1)}`),
    element(0x00200037, 'DS', '1\\0\\0\\0\\1\\0'),
    element(0x00280002, 'US', 1),
    element(0x00280004, 'CS', 'MONOCHROME2'),
    element(0x00280010, 'US', rows),
    element(0x00280011, 'US', columns),
    element(0x00280030, 'DS', '0.7\\0.7'),
    element(0x00280100, 'US', 16),
    element(0x00280101, 'US', 12),
    element(0x00280102, 'US', 11),
    element(0x00280103, 'US', 0),
    element(0x00281052, 'DS', '-1024'),
    element(0x00281053, 'DS', '1'),
    pixels,
  ]);
}

function picture(columns, rows) {
  const pixels = new Uint16Array(columns * rows);
  let state = 1;
  const noise = () => {
    state = (Math.imul(state, 1664525) + 1013904223) >>> 0;
    return (state / 2 ** 32 - 0.5) * 60;
  };
  for (let j = 0; j < rows; j++)
    for (let i = 0; i < columns; i++) {
      const body = ((i - 256) / 230) ** 2 + ((j - 256) / 180) ** 2 < 1;
      const lung = ((Math.abs(i - 256) - 100) / 80) ** 2 + ((j - 250) / 130) ** 2 < 1;
      const hu = lung ? -830 : body ? 50 : -1000;
      pixels[j * columns + i] = Math.max(0, Math.round(hu + 1024 + (body ? noise() : 0)));
    }
  return pixels;
}

const DCMTK = { rle: ['dcmcrle'], jpeg: ['dcmcjpeg', '+e1'], jls: ['dcmcjpls', '+el'] };

export async function writeSeries(folder, { columns, rows, slices, packing, write }) {
  const pixels = picture(columns, rows);
  const plain = (k) =>
    slice(
      k,
      columns,
      rows,
      element(0x7fe00010, 'OW', Buffer.from(pixels.buffer).toString('latin1')),
      '1.2.840.10008.1.2.1',
    );
  let tail;
  let syntax = '1.2.840.10008.1.2.1';
  if (packing === 'j2k') {
    const { J2KEncoder } = await require('@cornerstonejs/codec-openjpeg/wasmjs')({
      print() {},
      printErr() {},
    });
    const encoder = new J2KEncoder();
    const info = { width: columns, height: rows, bitsPerSample: 12, componentCount: 1, isSigned: false };
    encoder.getDecodedBuffer(info).set(new Uint8Array(pixels.buffer));
    encoder.encode();
    const stream = Buffer.from(encoder.getEncodedBuffer());
    const even = stream.length % 2 ? Buffer.concat([stream, Buffer.alloc(1)]) : stream;
    const head = Buffer.from('e07f10004f420000ffffffff' + 'feff00e000000000' + 'feff00e0', 'hex');
    const length = Buffer.alloc(4);
    length.writeUInt32LE(even.length);
    tail = Buffer.concat([head, length, even, Buffer.from('feffdde000000000', 'hex')]);
    syntax = '1.2.840.10008.1.2.4.90';
  } else if (packing !== 'plain') {
    const [program, ...args] = DCMTK[packing];
    const [from, to] = [join(folder, 'a'), join(folder, 'b')];
    write(from, plain(0));
    execFileSync(program, [...args, from, to]);
    const packed = readFileSync(to);
    const at = packed.indexOf(Buffer.from('e07f1000', 'hex'));
    tail = packed.subarray(at);
    syntax = { rle: '1.2.840.10008.1.2.5', jpeg: '1.2.840.10008.1.2.4.70', jls: '1.2.840.10008.1.2.4.80' }[
      packing
    ];
    execFileSync('rm', [from, to]);
  }
  for (let k = 0; k < slices; k++)
    write(
      join(folder, `${String(k).padStart(4, '0')}.dcm`),
      tail ? slice(k, columns, rows, tail, syntax) : plain(k),
    );
}
