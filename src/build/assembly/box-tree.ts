// AssemblyScript, built by src/build/assemble.mjs: the box tree of a mesh's triangles, with its queries. src/mesh/compiled-box-tree.ts lays
// out the memory; src/mesh/plain-box-tree.ts, box-order.ts and triangle-queries.ts contain and explain the plain version: boxes, order and
// every answer are the same in both, to the last bit.
export { closest } from './box-tree/closest-point';
export { each } from './box-tree/every-hit';
export { first, firsts } from './box-tree/first-hit';
export { enter } from './box-tree/tree';
