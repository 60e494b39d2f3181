import { progressBar } from '../terminal/progress-bar.js';
import type { Terminal } from '../terminal/terminal.js';
import type { OnProgress } from './proposed-surface.js';

export interface ScanProgress {
  step: OnProgress;
  close(): void;
}

/** Shows the progress of making a surface: one line on a terminal, erased at the end; nothing elsewhere. */
export async function startScanProgress(terminal: Terminal): Promise<ScanProgress> {
  if (!terminal.interactive) return { step: () => {}, close: () => {} };
  const bar = await progressBar('{bar} {percentage} % {text}');
  bar.start(100, 0, { text: '' });
  return {
    step: (share, what) => {
      bar.update(Math.round(100 * Math.min(1, share)), { text: what });
      // the computation blocks the thread, so the bar is drawn here
      bar.render();
    },
    close: () => bar.stop(),
  };
}
