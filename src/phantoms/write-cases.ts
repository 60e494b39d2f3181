import { mkdirSync, writeFileSync } from 'node:fs';
import { dirname, join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { demoCases, demoFiles } from './demo-cases.js';
import { scanCases, teachingCases } from './teaching-cases.js';
import { teachingPatients } from './teaching-patients.js';

/*
 * Writes the meshes of the demonstration and teaching cases: node dist/phantoms/write-cases.js [FOLDER], by default the package's `cases`.
 * The case files in the same folders are written by hand; a test compares their answer keys with the lesions' truth.
 */
const folder = process.argv[2] ?? fileURLToPath(new URL('../../cases', import.meta.url));
for (const demo of [...demoCases(), ...teachingCases(), ...scanCases(), ...teachingPatients()]) {
  for (const { path, bytes } of demoFiles(demo)) {
    const file = join(folder, demo.folder, path);
    mkdirSync(dirname(file), { recursive: true });
    writeFileSync(file, bytes);
    process.stderr.write(`${demo.folder}/${path}: ${bytes.length} bytes\n`);
  }
}
