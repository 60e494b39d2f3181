import { stat } from 'node:fs/promises';

/** Whether there is anything at a path; a link counts if its target exists. */
export const isThere = (path: string): Promise<boolean> =>
  stat(path).then(
    () => true,
    () => false,
  );
