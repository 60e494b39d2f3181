// AssemblyScript, built by src/build/assemble.mjs: the search for crossing triangles. src/mesh/self-intersection.ts lays out the memory,
// and src/mesh/triangle-tree.ts and triangle-crossing.ts contain the plain version: trees, order of pairs and points are the same in both,
// to the last bit.
export { endedEarly, search } from './self-intersection/search';
