import { quoted } from '../../foundation/quoted-text.js';
import { VertexWelder } from '../vertex-welder.js';
import { checkFinite, GrowingNumbers } from './mesh-builder.js';
import {
  checkTriangleCount,
  EXPORT_AGAIN,
  type MeshObject,
  MOST_OBJECTS,
  MOST_TRIANGLES,
  plainName,
  refuse,
  stem,
} from './mesh-file.js';
import { TextScanner } from './text-scanner.js';

/**
 * ASCII STL: any number of `solid NAME … endsolid` blocks, each an object. Strict about keywords, tolerant of white space and case. Equal
 * corners are joined while reading.
 */
export function readAsciiStl(bytes: Uint8Array, file: string): MeshObject[] {
  const scan = new TextScanner(bytes);
  const objects: MeshObject[] = [];
  let total = 0;
  const expect = (...words: string[]): void => {
    for (const word of words) {
      if (!scan.next()) {
        refuse(file, `line ${scan.line}`, `the file ends where "${word}" is needed`, EXPORT_AGAIN);
      }
      if (!scan.is(word)) {
        refuse(file, `line ${scan.line}`, `${quoted(scan.word())} where "${word}" is needed`, EXPORT_AGAIN);
      }
    }
  };
  const number = (): number => {
    if (!scan.next())
      refuse(file, `line ${scan.line}`, 'the file ends where a number is needed', EXPORT_AGAIN);
    const value = scan.number();
    if (Number.isNaN(value)) {
      refuse(
        file,
        `line ${scan.line}`,
        `${quoted(scan.word())} in triangle ${total + 1} is not a number`,
        EXPORT_AGAIN,
      );
    }
    return value;
  };
  while (scan.next()) {
    if (!scan.is('solid')) {
      refuse(file, `line ${scan.line}`, `${quoted(scan.word())} where "solid" is needed`, EXPORT_AGAIN);
    }
    if (objects.length >= MOST_OBJECTS) {
      refuse(file, `line ${scan.line}`, `more than ${MOST_OBJECTS} solids`, 'Split the file');
    }
    const name = plainName(scan.restOfLine());
    const welder = new VertexWelder();
    const triangles = new GrowingNumbers((n) => new Uint32Array(n));
    for (;;) {
      if (!scan.next()) {
        refuse(
          file,
          `line ${scan.line}`,
          'the file ends where "facet" or "endsolid" is needed',
          EXPORT_AGAIN,
        );
      }
      if (scan.is('endsolid')) break;
      if (!scan.is('facet')) {
        const what = `${quoted(scan.word())} where "facet" or "endsolid" is needed`;
        refuse(file, `line ${scan.line}`, what, EXPORT_AGAIN);
      }
      expect('normal');
      // The stated normal is not used (it may be nan in a degenerate triangle); the order of the corners determines the side.
      for (let k = 0; k < 3; k++) scan.next();
      expect('outer', 'loop');
      if (total >= MOST_TRIANGLES) checkTriangleCount(file, total + 1);
      for (let k = 0; k < 3; k++) {
        expect('vertex');
        const x = number();
        const y = number();
        const z = number();
        checkFinite(file, x, y, z, () => `line ${scan.line}`);
        triangles.push(welder.add(x, y, z));
      }
      expect('endloop', 'endfacet');
      total++;
    }
    scan.skipLine();
    objects.push({
      name: name || stem(file),
      mesh: { positions: welder.positions(), triangles: triangles.values() },
    });
  }
  return objects;
}
