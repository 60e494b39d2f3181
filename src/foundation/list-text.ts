/** Names in a sentence: `A1`, `A1 and A2`, `A1, A2 and V1`. */
export const listed = (names: readonly string[]): string =>
  names.length < 2 ? names.join('') : `${names.slice(0, -1).join(', ')} and ${names[names.length - 1]}`;
