import { SOURCES, type Source } from '../reference/sources.js';

const HOW_READ: Record<Source['read'], string> = {
  opened: '',
  excerpt: ' (excerpt)',
  secondary: ' (quoted elsewhere)',
  memory: ' (from memory)',
};

/** The publication that a rule is based on, or the rule's own wording of its source; for the middle of a sentence. */
export function citeOf(source: string): string {
  return Object.hasOwn(SOURCES, source) ? SOURCES[source as keyof typeof SOURCES].cite : source;
}

/** A rule's source as shown to a reader: the publication, its content and how it was read, or the rule's own wording. */
export function sourceText(source: string): string {
  if (!Object.hasOwn(SOURCES, source)) return source;
  const { cite, about, read }: Source = SOURCES[source as keyof typeof SOURCES];
  return `${cite}${about === undefined ? '' : ` (${about})`}${HOW_READ[read]}`;
}
