import type { Result } from '../result/result.generated.js';
import { Citations } from './citations.js';
import { cautionsSection, provenanceSection, purposeBanner, todayText } from './closing.js';
import type { FigureLink } from './figures/figures.js';
import { document, markdownText, section } from './markdown.js';
import { anatomySection } from './plan-anatomy.js';
import {
  assumedSection,
  figureSection,
  findingSection,
  type ReportedValue,
  type ScanPictureLinks,
  scanPictureSection,
} from './plan-notes.js';
import { closureSection, shuntSection } from './plan-oxygen.js';
import { followUpSection, readinessSection, triggerSection } from './plan-readiness.js';
import { planASection } from './plan-embolise.js';
import { planBSection } from './plan-resect.js';
import { summarySection } from './plan-summary.js';
import { printSection } from './print-readiness.js';

export type { ReportedValue } from './plan-notes.js';

/** Input of plan.md other than the result. */
export interface PlanExtras {
  /** The figures in `figures/`: those of `figuresOf`, and the rendered views. */
  figures?: readonly FigureLink[];
  /** Pictures of the scan in `figures/`, for checking the surfaces by eye. */
  scan?: ScanPictureLinks;
  /** Stated, measured or assumed inputs for the legend, such as haemoglobin, that the result does not hold. */
  values?: readonly ReportedValue[];
}

/**
 * Writes plan.md: one page for the team's decision, then the two plans in the order of use, then the evidence. Nothing is
 * computed; every number comes from the result and carries its unit and a mark (measured, derived, assumed, stated).
 * Text from the case is escaped. Same result, same bytes. Throws RangeError on a number that is not finite; `checkResult` finds those
 * first.
 */
export function renderPlan(result: Result, extras: PlanExtras = {}): string {
  const cite = new Citations();
  const sections = [
    titleBlock(result),
    summarySection(result, cite),
    planASection(result, cite),
    planBSection(result, cite),
    triggerSection(result, cite),
    readinessSection(result, cite),
    followUpSection(result, cite),
    ...printSection(result, cite),
    anatomySection(result),
    shuntSection(result, cite),
    closureSection(result),
    ...scanPictureSection(extras.scan),
    figureSection(extras.figures ?? []),
    assumedSection(result, extras.values ?? [], cite),
  ];
  sections.push(findingSection(result, cite, sections.join('\n')));
  return document([...sections, cite.section(), provenanceSection(result, true), cautionsSection(result)]);
}

function titleBlock(result: Result): string {
  const title = result.title ? markdownText(result.title) : `Case ${markdownText(result.case)}`;
  const scan = result.scan_date ? markdownText(result.scan_date) : 'date not stated';
  return section(1, `Plan: ${title}`, [
    `Case ${markdownText(result.case)}. CT: ${scan}. Today: ${todayText(result)}.`,
    purposeBanner(result),
  ]);
}
