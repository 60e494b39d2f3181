/**
 * Writes an output folder repeatedly, for tests that kill it or start two at once. Argument: the letter that fills its files.
 * Each line of stdin is one job: the number of writes, the start time in ms since 1970, and the folder; 'begun' is printed
 * after the first write and 'done' after the last.
 */
import { createInterface } from 'node:readline';
import { writeFolder } from '../../dist/cli/output/write-folder.js';

const [letter] = process.argv.slice(2);
const files = Array.from({ length: 12 }, (_, n) => ({
  path: n < 4 ? `${n}.txt` : `figures/${n}.txt`,
  bytes: letter.repeat(20_000),
}));
// a file that only one of the two writers writes must be gone once the other has written
files.push({ path: `only-${letter}.txt`, bytes: letter });
for await (const order of createInterface({ input: process.stdin })) {
  const [times, begin] = order.split(' ', 2).map(Number);
  const dir = order.split(' ').slice(2).join(' ');
  while (Date.now() < begin) await new Promise((done) => setTimeout(done, 1));
  for (let n = 0; n < times; n++) {
    await writeFolder({ dir, kind: 'plan', inputs: [] }, files);
    if (n === 0) process.stdout.write('begun\n');
  }
  process.stdout.write('done\n');
}
