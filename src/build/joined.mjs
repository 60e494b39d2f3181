/** Libraries that the build joins into dist/libraries, file by file. Those that share classes stand in one file. */
export const JOINED = {
  chalk: ['chalk'],
  chart: ['@observablehq/plot', 'linkedom'],
  commander: ['commander'],
  dicom: ['dcmjs'],
  'jpeg-lossless': ['jpeg-lossless-decoder-js'],
  manifold: ['manifold-3d/manifold'],
  three: ['three', 'three-mesh-bvh'],
  yaml: ['yaml'],
};

/** Their packages. */
export const JOINED_PACKAGES = Object.values(JOINED)
  .flat()
  .map((library) => /^(?:@[^/]+\/)?[^/]+/.exec(library)[0]);
