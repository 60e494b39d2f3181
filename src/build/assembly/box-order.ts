// AssemblyScript, built by src/build/assemble.mjs: sorts the triangles of a box tree into the two parts of a box. src/mesh/box-order.ts
// lays out the memory and contains the plain version: order and boxes are the same in both, to the last bit.
export { around, parted } from './shared/boxes';
