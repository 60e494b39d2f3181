import { memoryNeeded } from '../../batch/admission.js';
import { timeLeftText } from '../../batch/time-left.js';
import { progressBar } from '../terminal/progress-bar.js';
import type { Terminal } from '../terminal/terminal.js';

/** Reports the progress of a run on stderr. */
export interface Progress {
  /** One case ended; the time left is estimated from `bytes`, the size of its meshes. */
  step(text: string, bytes: number): void;
  close(): void;
}

/** A bar on a terminal, else one line per case; nothing if quiet. `loads` are all cases of the run. */
export async function startProgress(
  loads: readonly { bytes: number }[],
  terminal: Terminal,
): Promise<Progress> {
  if (terminal.quiet || loads.length === 0) return { step: () => {}, close: () => {} };
  const all = loads.reduce((sum, load) => sum + memoryNeeded(load), 0);
  const start = performance.now();
  let work = 0;
  let count = 0;
  const leftAfter = (bytes: number): string | undefined => {
    work += memoryNeeded({ bytes });
    count += 1;
    return timeLeftText(performance.now() - start, work, all);
  };
  if (!terminal.interactive) {
    return {
      step: (text, bytes) => {
        const left = leftAfter(bytes);
        terminal.err(`${count}/${loads.length} ${text}${left ? ` (${left})` : ''}\n`);
      },
      close: () => {},
    };
  }
  const bar = await progressBar('{bar} {value}/{total} {text} {left}');
  bar.start(loads.length, 0, { text: '', left: '' });
  return {
    step: (text, bytes) => bar.increment(1, { text, left: leftAfter(bytes) ?? '' }),
    close: () => bar.stop(),
  };
}
