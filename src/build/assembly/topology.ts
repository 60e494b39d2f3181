// AssemblyScript, built by src/build/assemble.mjs: operations on every mesh before it is measured or printed. src/mesh/mesh-kernel.ts lays
// out the memory; each function names its plain version, and results are the same in both, to the last bit.
export { join, usedVertices } from './topology/join';
export { edgeCount, isPairedConsistently, pair, sharedCount } from './topology/pairing';
export { componentCount } from './topology/components';
export { degenerate, isFreeOfCopies, pinched } from './topology/defects';
export { agree, volumesOf } from './topology/orientation';
export { boxOf, crowded, measured } from './topology/measures';
export { apart, grid, order } from './topology/writing';
