import type { Terminal } from '../terminal/terminal.js';
import type { OnProgress } from './proposed-surface.js';

/** Shows how far the making of a surface is: one line on a terminal, erased at the end; nothing elsewhere. */
export async function startScanProgress(
  terminal: Terminal,
): Promise<{ step: OnProgress; close: () => void }> {
  if (!terminal.interactive) return { step: () => {}, close: () => {} };
  const { default: cliProgress } = await import('cli-progress');
  const bar = new cliProgress.SingleBar({
    stream: process.stderr,
    format: '{bar} {percentage} % {text}',
    barCompleteChar: '#',
    barIncompleteChar: '.',
    barsize: 30,
    hideCursor: true,
    clearOnComplete: true,
    stopOnComplete: false,
  });
  let isRunning = false;
  return {
    step: (share, what) => {
      if (!isRunning) bar.start(100, 0, { text: '' });
      isRunning = true;
      bar.update(Math.round(100 * Math.min(1, share)), { text: what });
      // what computes holds the thread, so the bar is drawn here
      bar.render();
    },
    close: () => {
      if (isRunning) bar.stop();
      isRunning = false;
    },
  };
}
