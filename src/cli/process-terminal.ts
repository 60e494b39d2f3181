import type { Terminal } from './terminal.js';

/** The real stdout and stderr. Colour only on a terminal, never with NO_COLOR, TERM=dumb or --no-color. */
export function processTerminal(wish: { quiet: boolean; colour: boolean }): Terminal {
  const interactive = process.stderr.isTTY === true;
  const { NO_COLOR, TERM } = process.env;
  return {
    out: (text) => {
      process.stdout.write(text);
    },
    err: (text) => {
      process.stderr.write(text);
    },
    colour: wish.colour && interactive && !NO_COLOR && TERM !== 'dumb',
    interactive: interactive && !wish.quiet,
    quiet: wish.quiet,
  };
}
