import type { Terminal } from './terminal.js';
import { guarded } from './terminal-text.js';

/** The real stdout and stderr. Colour only on a terminal, never with NO_COLOR, TERM=dumb or --no-color. */
export function processTerminal(wish: { quiet: boolean; colour: boolean }): Terminal {
  const interactive = process.stderr.isTTY === true;
  const { NO_COLOR, TERM } = process.env;
  const colour = wish.colour && interactive && !NO_COLOR && TERM !== 'dumb';
  return {
    out: (text) => {
      process.stdout.write(guarded(text, false));
    },
    err: (text) => {
      process.stderr.write(guarded(text, colour));
    },
    colour,
    interactive: interactive && !wish.quiet,
    quiet: wish.quiet,
  };
}
