/** Words of a text: letters, digits and inner apostrophes or hyphens. */
export function wordsOf(text: string): string[] {
  return text.match(/[A-Za-z0-9]+(?:['’.-][A-Za-z0-9]+)*/g) ?? [];
}

/** Sentences of a text, split after . ! ? before a space or the end; a decimal point does not split. */
export function sentencesOf(text: string): string[] {
  return text.split(/(?<=[.!?])\s+/).filter((sentence) => wordsOf(sentence).length > 0);
}

/** Syllables of an English word, by groups of vowels with a silent final e; numbers count one per digit. */
export function syllablesOf(word: string): number {
  const plain = word.toLowerCase().replace(/[^a-z0-9]/g, '');
  if (/^\d+$/.test(plain)) return plain.length;
  const groups = plain.replace(/(?:[^laeiouy]es|[^laeiouyt]ed|[^laeiouy]e)$/, '').match(/[aeiouy]+/g);
  return Math.max(1, groups?.length ?? 0);
}

/**
 * Flesch reading ease: 206.835 - 1.015 words/sentences - 84.6 syllables/words (Flesch, J Appl Psychol 1948;32:221,
 * formula from memory). 70 to 80 is fairly easy, 80 to 90 easy.
 */
export function readingEase(text: string): number {
  const sentences = sentencesOf(text).length;
  const words = wordsOf(text);
  const syllables = words.reduce((sum, word) => sum + syllablesOf(word), 0);
  return 206.835 - (1.015 * words.length) / sentences - (84.6 * syllables) / words.length;
}

/** Flesch-Kincaid school grade: 0.39 words/sentences + 11.8 syllables/words - 15.59 (Kincaid 1975, from memory). */
export function schoolGrade(text: string): number {
  const words = wordsOf(text);
  const syllables = words.reduce((sum, word) => sum + syllablesOf(word), 0);
  return (0.39 * words.length) / sentencesOf(text).length + (11.8 * syllables) / words.length - 15.59;
}
