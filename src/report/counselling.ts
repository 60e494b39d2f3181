import type { CounsellingSheet } from '../plan/counselling.js';
import { type Closing, cautionsSection, provenanceSection, purposeBanner } from './closing.js';
import { bullets, document, markdownText, section, sentence } from './markdown.js';

/** Writes counselling.md: the sheet, then, for the team, its sources, provenance and cautions. */
export function renderCounselling(sheet: CounsellingSheet, result: Closing): string {
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
    ...(sheet.sources.length > 0
      ? [
          section(2, 'For the team: where the sentences come from', [
            bullets(sheet.sources.map((source) => markdownText(source))),
          ]),
        ]
      : []),
    provenanceSection(result),
    cautionsSection(result),
  ]);
}
