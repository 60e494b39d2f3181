// AssemblyScript, built by src/build/assemble.mjs: single passes over the corners or triangles of a mesh. src/mesh/mesh-passes.ts and
// src/mesh/point-set.ts lay out the memory; each pass has a plain version in TypeScript, named there, with the same result to the last bit.
export { extent, overhangs, slivers } from './mesh-passes/checks';
export { inUnits, triangleRows, vertexRows } from './mesh-passes/rows-3mf';
export { stl } from './mesh-passes/stl';
