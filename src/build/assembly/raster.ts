// AssemblyScript, built by src/build/assemble.mjs: draws triangles into samples with a depth each, and averages these into pixels.
// src/report/figures/compiled-raster.ts lays out the memory, and src/report/figures/plain-raster.ts contains the plain version: depths and
// pixels are the same in both, to the last bit.
export { drawOutlines } from './raster/outlines';
export { begin, leaveBehind } from './raster/picture';
export { average, mix } from './raster/pixels';
export { project } from './raster/project';
export { drawPart } from './raster/triangles';
