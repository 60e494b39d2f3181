import { quoted } from '../foundation/quoted-text.js';
import type { FileReader } from './file-reader.js';
import type { PlausibleRange } from './plausible-ranges.js';
import type { Problems } from './problems.js';

/** The paths in this file that match `gases[].po2`. */
function concrete(pattern: string, reader: FileReader): string[] {
  const cut = pattern.indexOf('[]');
  if (cut < 0) return [pattern];
  return reader.items(pattern.slice(0, cut)).map((item) => `${item}${pattern.slice(cut + 2)}`);
}

function limitsText({ low, high, unit }: PlausibleRange): string {
  if (unit === 'fraction')
    return `${Number((low * 100).toPrecision(6))} to ${Number((high * 100).toPrecision(6))} %`;
  return `${low} to ${high}${unit === '' ? '' : ` ${unit}`}`;
}

/** Notes every quantity and number outside its plausible range. `extra` holds values that the reader cannot look up itself. */
export function checkRanges(
  reader: FileReader,
  ranges: readonly PlausibleRange[],
  problems: Problems,
  extra: (path: string) => number | undefined = () => undefined,
): void {
  for (const range of ranges) {
    for (const path of concrete(range.path, reader)) {
      const value = extra(path) ?? reader.quantity(path) ?? reader.number(path);
      if (value === undefined || (value >= range.low && value <= range.high)) continue;
      const slip = value < range.low ? range.ifBelow : range.ifAbove;
      problems.add(
        path,
        `${quoted(reader.source(path) ?? '')} is outside ${limitsText(range)}.${slip ? ` ${slip}` : ''}`,
      );
    }
  }
}
