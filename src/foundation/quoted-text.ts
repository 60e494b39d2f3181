const LONGEST = 60;
/** Controls, bidirectional overrides, zero-width and other invisible characters. */
const INVISIBLE = /[\p{Cc}\p{Cf}\p{Cs}\p{Co}\p{Zl}\p{Zp}]/gu;

/** Whether a text contains a control, a bidirectional override or another invisible character. */
export function hasInvisible(text: string): boolean {
  return text.search(INVISIBLE) >= 0;
}

/** A text of one line with every invisible character as `\u{...}`, so that a terminal shows it and does not act on it. */
export function visible(text: string): string {
  return text.replace(INVISIBLE, (c) => `\\u{${c.codePointAt(0)?.toString(16)}}`);
}

/** Text written by a user, in double quotes for a message: cut to `longest` characters (60), invisible characters as `\u{...}`. */
export function quoted(text: string, longest = LONGEST): string {
  const cut = [...text.slice(0, 2 * longest)].slice(0, longest).join('');
  return `"${visible(cut)}${cut.length < text.length ? '…' : ''}"`;
}
