// Builds the programs that are written in AssemblyScript (src/build/assembly) next to the built code; each has a plain version that does
// the same.
import { main } from 'assemblyscript/asc';

/**
 * The source file of each program, which may import parts from the folder of its name and from `shared`, and the path of the built program.
 */
const TARGETS = {
  'box-order.ts': 'dist/mesh/box-order.wasm',
  'box-tree.ts': 'dist/mesh/box-tree.wasm',
  'mesh-passes.ts': 'dist/mesh/mesh-passes.wasm',
  'raster.ts': 'dist/report/figures/raster.wasm',
  'self-intersection.ts': 'dist/mesh/self-intersection.wasm',
  'stl-weld.ts': 'dist/mesh/read/stl-weld.wasm',
  'topology.ts': 'dist/mesh/topology.wasm',
};

for (const [file, target] of Object.entries(TARGETS)) {
  const { error, stderr } = await main([
    `src/build/assembly/${file}`,
    '--outFile',
    target,
    '-O3',
    '--noAssert',
    '--runtime',
    'stub',
    '--importMemory',
    '--noExportMemory',
    '--enable',
    'bulk-memory,simd',
  ]);
  if (error) throw new Error(`${file}: ${error.message}\n${stderr.toString()}`);
}
