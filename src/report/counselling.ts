import type { CounsellingSheet } from '../plan/counselling.js';
import type { Result } from '../result/result.generated.js';
import { cautionsSection, provenanceSection, purposeBanner } from './closing.js';
import { bullets, document, markdownText, section, sentence } from './markdown.js';

/** What is printed of the plan module's plain-language sheet. */
export type PrintedSheet = Pick<CounsellingSheet, 'title' | 'sections'>;

/** Writes counselling.md: the sheet, then what it does not do, provenance and cautions. */
export function renderCounselling(
  sheet: Pick<CounsellingSheet, 'title' | 'sections'>,
  result: Result,
): string {
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
