import { OutputFailure, ReportedFailure } from '../../foundation/failure.js';

const REASONS: Readonly<Record<string, string>> = {
  ENOSPC: 'the disk is full',
  EDQUOT: 'the disk quota is used up',
  EFBIG: 'a file would be larger than the system allows',
  EROFS: 'the disk is read-only',
  EACCES: 'there is no permission',
  EPERM: 'there is no permission',
  ENAMETOOLONG: 'the path is too long',
  ENOTDIR: 'there is a file where a folder is needed',
  EISDIR: 'there is a folder',
  ELOOP: 'a symbolic link leads to itself',
};

/** What to do, by reason. */
const CURES: Readonly<Record<string, string>> = {
  ENOSPC: 'Free some space and run again.',
  EDQUOT: 'Free some space and run again.',
};

/** Converts a system error while writing to an OutputFailure. Anything else is returned as it is. */
export function asOutputFailure(error: unknown, shown: string): unknown {
  const { code } = error as NodeJS.ErrnoException;
  if (error instanceof ReportedFailure || typeof code !== 'string' || !/^E[A-Z0-9]+$/.test(code))
    return error;
  const reason = REASONS[code] ?? 'the system refused';
  return new OutputFailure(
    `${shown}: it cannot be written: ${reason} (${code}). ${CURES[code] ?? 'Name another place.'} What was there before is unchanged.`,
  );
}
