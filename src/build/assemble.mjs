// Builds the parts that are written in AssemblyScript (src/build/assembly) beside the built code; each has a plain version that does the same.
import { readdirSync } from 'node:fs';
import { main } from 'assemblyscript/asc';

const TARGETS = {
  'box-order.ts': 'dist/mesh/box-order.wasm',
  'box-tree.ts': 'dist/mesh/box-tree.wasm',
  'mesh-passes.ts': 'dist/mesh/mesh-passes.wasm',
  'raster.ts': 'dist/report/figures/raster.wasm',
  'self-intersection.ts': 'dist/mesh/self-intersection.wasm',
  'stl-weld.ts': 'dist/mesh/read/stl-weld.wasm',
  'topology.ts': 'dist/mesh/topology.wasm',
};

for (const file of readdirSync('src/build/assembly')) {
  const { error, stderr } = await main([
    `src/build/assembly/${file}`,
    '--outFile',
    TARGETS[file],
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
