import { expect, it } from 'vitest';
import { systemProblem } from '../../src/case/case-files.js';

const failed = (code: string): Error => Object.assign(new Error(code), { code });

it.each([
  ['ENOENT', 'there is no such file or folder. Check the path.'],
  ['EACCES', 'it may not be read. Check its permissions.'],
  ['ELOOP', 'it is a symbolic link that leads to itself. Check the path.'],
  ['ENAMETOOLONG', 'the path is too long. Check the path.'],
  ['EMFILE', 'it cannot be opened (EMFILE). Check the path.'],
])('a path refused with %s: says what happened and what to do', (code, text) => {
  expect(systemProblem(failed(code))).toBe(text);
});
