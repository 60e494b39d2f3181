import type { Terminal } from '../../src/cli/terminal/terminal.js';

export interface Captured {
  code: number;
  out: string;
  err: string;
}

/** Runs a command and captures stdout and stderr separately. */
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
