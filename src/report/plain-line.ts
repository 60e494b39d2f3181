/** Controls, format characters (bidirectional marks, zero widths), lone surrogates and the two non-characters. */
const HIDDEN = /[\p{Cc}\p{Cf}\p{Cs}\ufffe\uffff]/gu;

/** One line of visible text: whitespace becomes single spaces; characters that hide or reorder text or break XML are dropped. */
export function plainLine(text: string): string {
  return text.replace(/\s+/g, ' ').replace(HIDDEN, '').trim();
}
