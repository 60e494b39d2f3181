/** The checklist, the patient's sheet and the page for a bleed, covering all lesions. */
import type { CounsellingSheet } from '../../plan/counselling.js';
import { STANDING_CAUTIONS } from '../../result/cautions.js';
import type { PatientResult } from '../../result/patient-result.js';
import type { Result } from '../../result/result.generated.js';
import { renderChecklist } from '../checklist.js';
import { Citations } from '../citations.js';
import { purposeBanner, todayText } from '../closing.js';
import { renderCounselling } from '../counselling.js';
import { bullets, document, markdownText, section } from '../markdown.js';
import { feederLines } from '../urgent.js';
import { counted, lobeText } from '../words.js';
import { closingOf } from './patient-closing.js';

const countOf = (result: PatientResult): string => counted(Object.keys(result.lesions).length, 'lesion');

/** checklist.md of a patient. */
export const renderPatientChecklist = (result: PatientResult): string =>
  renderChecklist(
    {
      ...closingOf(result),
      title: result.title,
      checklist: result.checklist,
      findings: result.findings,
      pulmonary_pressure: result.pulmonary_pressure,
    },
    { what: `Patient ${markdownText(result.patient)}, ${countOf(result)}` },
  );

/** counselling.md of a patient: the sheets of the lesions combined, each sentence once. */
export function renderPatientCounselling(sheets: readonly CounsellingSheet[], result: PatientResult): string {
  const headings = [...new Set(sheets.flatMap(({ sections }) => sections.map(({ heading }) => heading)))];
  const open = Object.values(result.lesions).filter(({ state }) => state === 'open').length;
  const sessions = result.sessions.length;
  const own =
    Object.keys(result.lesions).length < 2
      ? []
      : [
          {
            heading: 'Your short cuts',
            sentences: [
              `You have more than one short cut in your lungs. We count ${open} that ${open === 1 ? 'is' : 'are'} open.`,
              ...(sessions > 1
                ? [
                    `We plan to close them in ${sessions} visits. Until the last one is closed, the risk of a stroke stays.`,
                  ]
                : []),
              ...(result.remainder === 'unknown'
                ? [
                    'There may be more that we have not found. Closing these may not bring your oxygen up to normal.',
                  ]
                : []),
            ],
          },
        ];
  const sheet: CounsellingSheet = {
    title:
      sheets[0]?.title.replace('the short cut in', 'the short cuts in').replace('lung', 'lungs') ??
      'About the short cuts in your lungs',
    sections: [
      ...own,
      ...headings.map((heading) => ({
        heading,
        sentences: [
          ...new Set(
            sheets.flatMap(({ sections }) =>
              sections.flatMap((part) => (part.heading === heading ? part.sentences : [])),
            ),
          ),
        ],
      })),
    ],
    sources: [...new Set(sheets.flatMap(({ sources }) => sources))],
  };
  return renderCounselling(sheet, closingOf(result));
}

/** Greatest number of lesions with separate lines; the page has at most 60 lines. */
const MOST_LESIONS = 4;
const MOST_FEEDERS_EACH = 3;

/** urgent.md of a patient: nobody can know beforehand which lesion will bleed, so each has its own lines, the likeliest first. */
export function renderPatientUrgent(
  result: PatientResult,
  plans: Readonly<Record<string, Result>>,
): string | undefined {
  const ids = result.order.filter((id) => plans[id]?.urgent !== undefined);
  if (ids.length === 0) return undefined;
  const cite = new Citations();
  const urgents = ids.map((id) => plans[id].urgent!);
  const bleeding = ids.filter((id) => plans[id].urgent!.state === 'bleeding');
  const key = ({ id, text }: (typeof urgents)[number]['steps'][number]): string => `${id} ${text}`;
  const shared = urgents[0].steps.filter((step) =>
    urgents.every(({ steps }) => steps.some((other) => key(other) === key(step))),
  );
  const step = ({ text, source }: (typeof shared)[number]): string =>
    `${cite.sentence(text).replace(/^([A-Z][a-z ]{2,24}):/, '**$1**:')} ${cite.mark(source)}`;
  const lesionBlocks = ids.slice(0, MOST_LESIONS).map((id) => {
    const plan = plans[id];
    const urgent = plan.urgent!;
    const own = urgent.steps.filter((one) => !shared.some((other) => key(other) === key(one)));
    const feeders = { ...urgent, feeders: urgent.feeders.slice(0, MOST_FEEDERS_EACH) };
    return section(2, `${markdownText(id)}: ${lobeText(plan.lesion)}`, [
      bullets([
        ...own.map(step),
        ...feederLines(plan, feeders),
        `**Clamp**: ${cite.sentence(urgent.clamp_site)}`,
      ]),
    ]);
  });
  const call = urgents[0].call.map(
    ({ role, contact }) =>
      `${markdownText(role.replaceAll('_', ' '))} ${contact === undefined ? '**not stated**' : markdownText(contact)}`,
  );
  const state = bleeding.length > 0 ? 'BLEEDING' : 'STANDBY';
  const which =
    bleeding.length > 0 && bleeding.length < ids.length
      ? `The file says that ${bleeding.map(markdownText).join(', ')} bleeds.`
      : 'Which lesion bleeds is not stated: side by blood in the airway at bronchoscopy, or by a new scan if the patient is stable.';
  const scan = result.scan_date === undefined ? 'date not stated' : markdownText(result.scan_date);
  return document([
    section(1, `${state}: ${countOf(result)}`, [
      `Patient ${markdownText(result.patient)}. CT: ${scan}. Today: ${todayText(result)}. ${which}`,
      purposeBanner(result),
    ]),
    bullets([`**Call**: ${call.join('; ')}.`, ...shared.map(step)]),
    ...lesionBlocks,
    ...(ids.length > MOST_LESIONS
      ? [
          `Further lesions: ${ids.slice(MOST_LESIONS).map(markdownText).join(', ')}; see lesions/ID/urgent.md.`,
        ]
      : []),
    section(2, 'Sources and cautions', [cite.line(), STANDING_CAUTIONS.map(markdownText).join(' ')]),
  ]);
}
