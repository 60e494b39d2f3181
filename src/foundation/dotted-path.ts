/** A path with every list position written after a point: `closure[0].closed` -> `closure.0.closed`. */
export const dottedPath = (path: string): string => path.replace(/\[(\d+)\]/g, '.$1');
