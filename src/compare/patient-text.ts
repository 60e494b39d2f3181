import { bullets, clause, document, markdownText, section, sentence, table } from '../report/markdown.js';
import { STANDING_CAUTIONS } from '../result/cautions.js';
import type { PatientComparison } from './compare-patients.js';

const CHANGES: Record<PatientComparison['lesions'][number]['change'], string> = {
  closed: 'closed since',
  'still open': 'still open',
  'still closed': 'still closed',
  reopened: '**open again**',
  new: '**new**',
  gone: 'not in the new plan',
  'not planned': 'not planned',
};

/** A comparison of two plans of a patient as Markdown. Text from the files is escaped. */
export function patientComparisonText(comparison: PatientComparison): string {
  const { old, new: now, verdict, because, lesions, sessions, shunt } = comparison;
  return document([
    section(1, `Patient ${markdownText(now.patient)}: ${verdict}`, [
      `Old: ${markdownText(old.patient)}, CT ${markdownText(old.scanDate ?? 'date not stated')}. New: ${markdownText(now.patient)}, CT ${markdownText(now.scanDate ?? 'date not stated')}.`,
      because.length > 0
        ? bullets(because.map((text) => sentence(text)))
        : 'Nothing that the plan depends on has changed.',
    ]),
    section(2, 'Lesions', [
      lesions.length > 0
        ? table(
            ['Lesion', 'Since the old plan', 'Its own plan'],
            lesions.map(({ id, change, comparison: own }) => [
              `**${markdownText(id)}**`,
              CHANGES[change],
              own?.verdict ?? '',
            ]),
          )
        : 'Neither plan contains a lesion.',
    ]),
    section(2, 'Shunt', [clause(shunt)]),
    section(2, 'Sessions of the old plan', [
      sessions.length > 0
        ? table(
            ['No', 'Closes', 'State'],
            sessions.map(({ number, closes, state }) => [
              String(number),
              closes.map(markdownText).join(', '),
              state === 'stands' ? 'unchanged, still to be done' : state,
            ]),
          )
        : 'The old plan has none.',
    ]),
    section(2, 'Cautions', [bullets(STANDING_CAUTIONS.map(sentence))]),
  ]);
}

/** Whether a text is a comparison that this program wrote. */
export const isPatientComparison = (text: string): boolean =>
  text.startsWith('# Patient ') &&
  text.includes('## Sessions of the old plan') &&
  text.includes(STANDING_CAUTIONS[0]);
