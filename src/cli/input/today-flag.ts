import { InputFailure } from '../../foundation/failure.js';
import { dayNumber } from '../../foundation/iso-date.js';
import { quoted } from '../../foundation/quoted-text.js';

/** Throws InputFailure (2) if `--today` is given and is not a valid date. */
export function checkToday(today: string | undefined): void {
  if (today !== undefined && dayNumber(today) === undefined)
    throw new InputFailure(
      2,
      `--today ${quoted(today)} is not a valid date. Write for example --today 2026-03-20.`,
    );
}
