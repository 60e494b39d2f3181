/** Licences that ask for a notice at most. Any other one is for a person to judge before it is added here. */
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
