/** Controls, format characters (bidirectional marks, zero widths), lone surrogates and the two non-characters. */
const HIDDEN = /[\p{Cc}\p{Cf}\p{Cs}\ufffe\uffff]/gu;

/** One line of visible text: whitespace becomes single spaces; what hides, reorders or breaks XML is dropped. */
export function plainLine(text: string): string {
  return text.replace(/\s+/g, ' ').replace(HIDDEN, '').trim();
}
