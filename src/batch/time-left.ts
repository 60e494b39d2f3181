/** `about 2 min left`, from the time so far and the share of work done; undefined until anything is known. */
export function timeLeftText(elapsedMs: number, doneWork: number, allWork: number): string | undefined {
  if (doneWork <= 0 || doneWork >= allWork) return undefined;
  const seconds = (elapsedMs / 1000 / doneWork) * (allWork - doneWork);
  if (seconds < 1) return undefined;
  if (seconds < 90) return `about ${Math.ceil(seconds)} s left`;
  if (seconds < 5400) return `about ${Math.round(seconds / 60)} min left`;
  return `about ${(seconds / 3600).toFixed(1)} h left`;
}
