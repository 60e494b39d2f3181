/** Licences that require at most a notice. Any other licence must be judged by a person before it is added here. */
export const NOTICE_ONLY = [
  '(MIT AND Zlib)',
  'Apache-2.0',
  'BSD-2-Clause',
  'BSD-3-Clause',
  'ISC',
  'MIT',
  'PSF-2.0',
  'Unlicense',
];
