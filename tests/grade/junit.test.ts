import { SaxesParser, type SaxesTagPlain } from 'saxes';
import { describe, expect, it } from 'vitest';
import { gradeResult } from '../../src/grade/grade.js';
import { junitXml } from '../../src/grade/junit.js';
import { keyOf, locate, resultOf } from './make.js';

/*
 * What the schema junit-10.xsd of the Jenkins xUnit plugin allows (read, revision 031e285): attributes (with ! where
 * required) and children of each element.
 */
const SCHEMA: Record<string, { attributes: string[]; children: string[] }> = {
  testsuites: { attributes: ['name', 'time', 'tests', 'failures', 'errors'], children: ['testsuite'] },
  testsuite: {
    attributes: [
      'name!',
      'tests!',
      'failures!',
      'errors!',
      'group',
      'time',
      'skipped',
      'timestamp',
      'hostname',
      'id',
      'package',
      'file',
      'log',
      'url',
    ],
    children: ['testsuite', 'properties', 'testcase', 'system-out', 'system-err'],
  },
  testcase: {
    attributes: ['name!', 'time', 'classname', 'group'],
    children: ['skipped', 'error', 'failure', 'system-out', 'system-err'],
  },
  failure: { attributes: ['type', 'message'], children: ['#text'] },
  error: { attributes: ['type', 'message'], children: ['#text'] },
};

interface Element {
  name: string;
  attributes: Record<string, string>;
  children: Element[];
  text: string;
}

/** Parses strictly (XML 1.0: it fails on anything not well-formed) and checks each element against the table. */
function parsed(xml: string): Element {
  const root: Element = { name: '#root', attributes: {}, children: [], text: '' };
  const stack = [root];
  const parser = new SaxesParser();
  parser.on('error', (error) => {
    throw error;
  });
  parser.on('opentag', (tag: SaxesTagPlain) => {
    const parent = stack[stack.length - 1];
    const rule = SCHEMA[tag.name];
    expect(rule, `element ${tag.name}`).toBeDefined();
    if (parent !== root) expect(SCHEMA[parent.name].children).toContain(tag.name);
    else expect(tag.name).toBe('testsuites');
    const known = rule.attributes.map((name) => name.replace('!', ''));
    for (const name of Object.keys(tag.attributes)) expect(known).toContain(name);
    for (const name of rule.attributes.filter((one) => one.endsWith('!')))
      expect(Object.keys(tag.attributes)).toContain(name.replace('!', ''));
    const element = {
      name: tag.name,
      attributes: tag.attributes as Record<string, string>,
      children: [],
      text: '',
    };
    parent.children.push(element);
    stack.push(element);
  });
  parser.on('closetag', () => stack.pop());
  parser.on('text', (text) => {
    const top = stack[stack.length - 1];
    if (text.trim() !== '') expect(SCHEMA[top.name].children, `text in ${top.name}`).toContain('#text');
    top.text += text;
  });
  parser.write(xml).close();
  return root.children[0];
}

const HOSTILE = 'a"<b>&\u0000\u0008\ud800 \ufffe]]>\n\t\u2028é\u{1f600}';

describe('the JUnit report', () => {
  const grade = gradeResult(
    keyOf(
      { value: 'lesion.kind', equals: 'complex' },
      { value: 'devices.A1.kind', equals: HOSTILE },
      { value: `vessels.${HOSTILE}`, equals: 1 },
      { value: 'shunt.fraction', equals: 0.28, within: 0.02 },
    ),
    resultOf((result) => {
      result.case = HOSTILE;
    }),
    locate,
  );

  it('fits the schema, whatever text it contains', () => {
    const root = parsed(junitXml([grade], [{ case: HOSTILE, problems: [HOSTILE, 'two'] }]));
    expect(root.attributes).toMatchObject({ tests: '5', failures: '3', errors: '1' });
    expect(root.children.map(({ attributes }) => attributes)).toMatchObject([
      { tests: '4', failures: '3', errors: '0' },
      { tests: '1', failures: '0', errors: '1' },
    ]);
    const cases = root.children[0].children;
    expect(cases.map(({ children }) => children.length)).toEqual([0, 1, 1, 1]);
    expect(cases.map(({ children }) => children[0]?.attributes.type)).toEqual([
      undefined,
      'wrong',
      'missing',
      'near',
    ]);
    // restores what XML can represent and replaces what it cannot
    expect(root.children[0].attributes.name).toBe('a"<b>&\ufffd\ufffd\ufffd \ufffd]]>\n\t\u2028é\u{1f600}');
    expect(root.children[1].children[0].children[0].text).toContain('two');
  });

  it('is still valid without any cases', () => {
    expect(parsed(junitXml([], [])).attributes.tests).toBe('0');
  });

  it('contains no time', () => {
    expect(junitXml([grade], [])).not.toMatch(/time/);
  });
});
