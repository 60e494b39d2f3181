import { InputFailure } from './failure.js';

/** The entry that names a format of ours, up to its kind. */
const ENTRY = String.raw`[ \t]*["']?format["']?[ \t]*:[ \t]*["']?pavm-`;

/** A line or flow entry that names a format of ours; only `pavm-`, so that another edition can be distinguished from a foreign file. */
const FORMAT = new RegExp(`(?:^|[{,])${ENTRY}`, 'm');

/** Whether the text of a file, or its head, names a case or a patient file of ours: in any style of YAML or in JSON, not in a comment. */
export function namesFileOf(kind: 'case' | 'patient', text: string): boolean {
  return new RegExp(`^(?:[^#\\n]*[{,])?${ENTRY}${kind}/`, 'm').test(text.replace(/^\ufeff/, ''));
}

/**
 * Rejects a file that does not name a format of ours before any of it is read: no key and no value of a foreign file (which may hold
 * secrets) may appear in a message. Throws InputFailure.
 */
export function refuseForeign(
  text: string,
  fileName: string,
  file: { what: string; format: string; exitCode: 2 | 3 },
): void {
  if (FORMAT.test(text.replace(/^\ufeff/, ''))) return;
  throw new InputFailure(
    file.exitCode,
    `${fileName}:1:1 this is not a ${file.what}: it has no "format: ${file.format}". Check the path, or write that line at its top.`,
  );
}

/** A format as written in a file, for a message; a word that is not a format of ours is not repeated. */
export function formatWords(written: string | undefined): string {
  return written !== undefined && /^pavm-[a-z-]{1,20}\/\d{1,4}$/.test(written)
    ? `"${written}"`
    : 'what is there';
}
