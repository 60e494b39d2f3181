import { SOURCES, type Source } from '../reference/sources.js';

const HOW_READ: Record<Source['read'], string> = {
  opened: '',
  excerpt: ' (excerpt)',
  secondary: ' (quoted elsewhere)',
  memory: ' (from memory)',
};

/** The publication that a rule is based on, or the words the rule itself gives; for the middle of a sentence. */
export function citeOf(source: string): string {
  return Object.hasOwn(SOURCES, source) ? SOURCES[source as keyof typeof SOURCES].cite : source;
}

/** A rule's source as a reader sees it: the publication, what it holds and how it was read, or the words the rule itself gives. */
export function sourceText(source: string): string {
  if (!Object.hasOwn(SOURCES, source)) return source;
  const { cite, about, read }: Source = SOURCES[source as keyof typeof SOURCES];
  return `${cite}${about === undefined ? '' : ` (${about})`}${HOW_READ[read]}`;
}
