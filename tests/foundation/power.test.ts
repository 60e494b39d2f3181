import { readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import ts from 'typescript';
import { describe, expect, it } from 'vitest';
import { cube, fourthPower, power, tenTo } from '../../src/foundation/power.js';

describe('powers', () => {
  // exact products of small whole numbers and binary fractions, by hand
  it.each([
    [2, 8, 16],
    [-3, -27, 81],
    [1.5, 3.375, 5.0625],
    [0, 0, 0],
  ])('%f: third %f, fourth %f', (x, third, fourth) => {
    expect(cube(x)).toBe(third);
    expect(fourthPower(x)).toBe(fourth);
  });

  // source: Abramowitz and Stegun, Handbook of Mathematical Functions, table 1.1 (square and cube roots), from memory
  it.each([
    [3, 1 / 2, 1.7320508075689],
    [10, 1 / 3, 2.1544346900319],
    [10, 0.3010299956639812, 2],
    [0.5, -2, 4],
    [7, 0, 1],
    [0, 2.92, 0],
  ])('%f to the power %f is %f', (base, exponent, value) => {
    expect(power(base, exponent)).toBeCloseTo(value, 12);
  });

  it('no power of a negative number', () => expect(power(-1, 0.5)).toBeNaN());

  it.each([
    [-5, 0.00001],
    [0, 1],
    [3, 1000],
    [22, 1e22],
    [23, 1e23],
  ])('10 to the power %i is the nearest number to it', (exponent, value) =>
    expect(tenTo(exponent)).toBe(value),
  );
});

// a later engine must compute what this one computed: a print is recognised by the checksum of its model
describe("the engine's own power", () => {
  it('raises only to 2, or 2 to a constant', () => {
    const found = sourceFiles('src').flatMap((file) => unsteadyPowers(file));
    expect(found).toEqual([]);
  });

  it('is found where it is used', () => {
    expect(powersIn('const a = b ** 3 + Math.pow(b, 2) + 2 ** n + c ** 2 + 2 ** 20;', 'a.ts')).toEqual([
      'a.ts: b ** 3',
      'a.ts: Math.pow(b, 2)',
    ]);
  });
});

function sourceFiles(folder: string): string[] {
  return readdirSync(folder, { withFileTypes: true, recursive: true })
    .filter((entry) => entry.isFile() && /\.(ts|mjs)$/.test(entry.name))
    .map((entry) => join(entry.parentPath, entry.name));
}

function unsteadyPowers(file: string): string[] {
  const text = readFileSync(file, 'utf8');
  return /\*\*|\bpow\b/.test(text) ? powersIn(text, file) : [];
}

function powersIn(text: string, name: string): string[] {
  const found: string[] = [];
  const visit = (node: ts.Node): void => {
    if (ts.isBinaryExpression(node) && isPower(node.operatorToken.kind)) {
      const steady =
        node.right.getText(source) === '2' ||
        (node.left.getText(source) === '2' && !/[./]/.test(node.right.getText(source)));
      if (!steady && !isConstant(node)) found.push(`${name}: ${node.getText(source)}`);
    }
    if (ts.isCallExpression(node) && node.expression.getText(source) === 'Math.pow')
      found.push(`${name}: ${node.getText(source)}`);
    ts.forEachChild(node, visit);
  };
  const source = ts.createSourceFile(name, text, ts.ScriptTarget.Latest, true);
  visit(source);
  return found;
}

const isPower = (kind: ts.SyntaxKind): boolean =>
  kind === ts.SyntaxKind.AsteriskAsteriskToken || kind === ts.SyntaxKind.AsteriskAsteriskEqualsToken;

/** A whole number to a whole power of at most 2^53, which every engine gives exactly. */
const isConstant = ({ left, right }: ts.BinaryExpression): boolean =>
  ts.isNumericLiteral(left) &&
  ts.isNumericLiteral(right) &&
  Number(left.text) ** Number(right.text) <= 2 ** 53;
