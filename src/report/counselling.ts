import type { Result } from '../result/result.generated.js';
import { cautionsSection, provenanceSection, purposeBanner } from './closing.js';
import { bullets, document, markdownText, section, sentence } from './markdown.js';

/** The plain-language sheet as values: its sentences are written by the plan module. */
export interface CounsellingSheet {
  title: string;
  sections: readonly { heading: string; sentences: readonly string[] }[];
}

/** Writes counselling.md: the sheet, then what it does not do, provenance and cautions. */
export function renderCounselling(sheet: CounsellingSheet, result: Result): string {
  return document([
    section(1, markdownText(sheet.title), [
      purposeBanner(result),
      'This sheet helps you talk with your team. It does not replace that talk. Ask about anything that is not clear.',
    ]),
    ...sheet.sections.map((part) =>
      section(2, markdownText(part.heading), [
        part.sentences.length > 0
          ? bullets(part.sentences.map(sentence))
          : 'There is nothing to say here from the data we have. Ask your team.',
      ]),
    ),
    provenanceSection(result),
    cautionsSection(result),
  ]);
}
