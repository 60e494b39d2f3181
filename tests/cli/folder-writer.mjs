/**
 * Writes an output folder over and over, for tests that kill it or start two at once. Arguments: the folder, a letter that
 * fills its files, how often, and a time in ms since 1970 to begin at.
 */
import { writeFolder } from '../../dist/cli/output/write-folder.js';

const [dir, letter, times, begin] = process.argv.slice(2);
const files = Array.from({ length: 12 }, (_, n) => ({
  path: n < 4 ? `${n}.txt` : `figures/${n}.txt`,
  bytes: letter.repeat(20_000),
}));
// what only one of the two writers writes must go when the other has written
files.push({ path: `only-${letter}.txt`, bytes: letter });
while (Date.now() < Number(begin ?? 0)) await new Promise((done) => setTimeout(done, 1));
for (let n = 0; n < Number(times); n++) {
  await writeFolder({ dir, kind: 'plan', inputs: [] }, files);
  if (n === 0) process.stdout.write('begun\n');
}
