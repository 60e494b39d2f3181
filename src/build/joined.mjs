/** Libraries that the build joins into dist/libraries, file by file. Those that share classes stand in one file. */
export const JOINED = {
  chalk: ['chalk'],
  chart: ['@observablehq/plot'],
  commander: ['commander'],
  dicom: ['dcmjs'],
  'jpeg-lossless': ['jpeg-lossless-decoder-js'],
  manifold: ['manifold-3d/manifold'],
  yaml: ['yaml'],
};

/** Built into the page's own program. */
export const VIEWER_LIBRARY = 'three';

/** The packages of all these. */
export const JOINED_PACKAGES = [...Object.values(JOINED).flat(), VIEWER_LIBRARY].map(
  (library) => /^(?:@[^/]+\/)?[^/]+/.exec(library)[0],
);
