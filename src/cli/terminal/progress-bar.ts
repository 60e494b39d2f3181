import type { SingleBar } from 'cli-progress';

/** A bar on stderr that is erased when it stops; the library is loaded only here, when a bar is shown. */
export async function progressBar(format: string): Promise<SingleBar> {
  const { default: cliProgress } = await import('cli-progress');
  return new cliProgress.SingleBar({
    stream: process.stderr,
    format,
    barCompleteChar: '#',
    barIncompleteChar: '.',
    barsize: 30,
    hideCursor: true,
    clearOnComplete: true,
    stopOnComplete: false,
  });
}
