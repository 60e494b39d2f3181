/**
 * CSV by RFC 4180: commas, CRLF, quotes doubled. A text that a spreadsheet would run as a formula (it starts with `=`, `+`, `-`, `@`,
 * a tab or a line break) is prefixed with an apostrophe, as OWASP advises; numbers stay numbers. Control characters become spaces.
 */
export function csvText(rows: readonly (readonly (string | number | undefined)[])[]): string {
  return rows.map((row) => `${row.map(cell).join(',')}\r\n`).join('');
}

const FORMULA = /^[=+\-@\t\r\n\uff1d\uff0b\uff0d\uff20]/;

function cell(value: string | number | undefined): string {
  if (value === undefined) return '';
  if (typeof value === 'number') return String(value);
  const guarded = FORMULA.test(value.trimStart()) || FORMULA.test(value) ? `'${value}` : value;
  const plain = guarded.replace(/[\p{Cc}\p{Zl}\p{Zp}]/gu, ' ');
  return /[",;]|^\s|\s$|^'/.test(plain) ? `"${plain.replaceAll('"', '""')}"` : plain;
}
