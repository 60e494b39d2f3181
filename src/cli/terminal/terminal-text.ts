const INVISIBLE = /[\p{Cc}\p{Cf}\p{Cs}\p{Co}\p{Zl}\p{Zp}]/gu;
/** The same, except the colours of `sayFindings`, the only escape sequences of this program. */
const COLOUR_OR_INVISIBLE =
  // biome-ignore lint/suspicious/noControlCharactersInRegex: colours begin with one
  /\u001b\[(?:1|2|22|31|33|39)m|[\p{Cc}\p{Cf}\p{Cs}\p{Co}\p{Zl}\p{Zp}]/gu;

/**
 * The last filter before a terminal or a log: every invisible character except newline and tab (controls, C1, bidirectional overrides) is
 * shown as `\uXXXX`, which in JSON is still the same text. With `colour`, our own colours pass.
 */
export function guarded(text: string, colour: boolean): string {
  return text.replace(colour ? COLOUR_OR_INVISIBLE : INVISIBLE, (found) => {
    if (found === '\n' || found === '\t' || found.length > 2) return found;
    return [...Array(found.length).keys()]
      .map((i) => `\\u${found.charCodeAt(i).toString(16).padStart(4, '0')}`)
      .join('');
  });
}
