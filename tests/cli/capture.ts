import type { Terminal } from '../../src/cli/terminal/terminal.js';

export interface Captured {
  code: number;
  out: string;
  err: string;
}

/** Runs a command with a terminal that keeps what is written, each stream on its own. */
export async function capture(
  run: (terminal: Terminal) => Promise<number>,
  settings: Partial<Terminal> = {},
): Promise<Captured> {
  const captured = { code: -1, out: '', err: '' };
  captured.code = await run({
    out: (text) => {
      captured.out += text;
    },
    err: (text) => {
      captured.err += text;
    },
    colour: false,
    interactive: false,
    quiet: false,
    ...settings,
  });
  return captured;
}
