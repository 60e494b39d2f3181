/** A path with every list index written after a dot: `closure[0].closed` -> `closure.0.closed`. */
export const dottedPath = (path: string): string => path.replace(/\[(\d+)\]/g, '.$1');
