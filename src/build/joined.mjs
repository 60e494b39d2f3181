/**
 * Libraries that the build joins into dist/libraries, file by file. Libraries that share classes are in one file. `NAME#a,b` stands for
 * only these names of a library, if they are used at another time than the rest of it.
 */
export const JOINED = {
  chalk: ['chalk'],
  chart: ['@observablehq/plot'],
  commander: ['commander'],
  dicom: ['dcmjs'],
  flatqueue: ['flatqueue'],
  // creates tables of 30 000 numbers when it is loaded
  inflate: ['fflate#Inflate'],
  'jpeg-lossless': ['jpeg-lossless-decoder-js'],
  manifold: ['manifold-3d/manifold'],
  markdown: ['markdown-it'],
  yaml: ['yaml'],
  zip: ['fflate'],
};

/** Built into the page's own program. */
export const VIEWER_LIBRARY = 'three';

/** The packages of all these. */
export const JOINED_PACKAGES = [...Object.values(JOINED).flat(), VIEWER_LIBRARY].map(
  (library) => /^(?:@[^/]+\/)?[^/#]+/.exec(library)[0],
);
