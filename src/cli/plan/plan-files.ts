import type { Shelf } from '../../case/case.js';
import type { Finding } from '../../foundation/finding.js';
import { inStage } from '../../foundation/stage.js';
import type { CounsellingSheet } from '../../plan/counselling.js';
import { assembleResult } from '../../plan/assemble-result.js';
import type { PrintPackage } from '../../print/assemble-package.js';
import { PrintGivenUp } from '../../print/print-given-up.js';
import { renderChecklist } from '../../report/checklist.js';
import { renderCounselling } from '../../report/counselling.js';
import type { PageScan } from '../../page/page-types.js';
import type { Figure } from '../../report/figures/figures.js';
import { renderPlan } from '../../report/plan.js';
import type { ScanPictureLinks } from '../../report/plan-notes.js';
import { type ProposalMarker, proposalMarker } from '../../report/proposal-mark.js';
import { renderUrgent } from '../../report/urgent.js';
import { checkResult, prepareCheck } from '../../report/result-check.js';
import { resultJson } from '../../report/result-json.js';
import type { Result } from '../../result/result.generated.js';
import { caseShelf } from '../input/case-shelf.js';
import type { MeasuredCase } from '../measure/measure-case.js';
import { printFolderFiles, printPackageOf } from './print-folder.js';
import { statedValues } from './stated-values.js';
import { packageVersion } from '../version.js';
import type { OutputFile } from '../output/output-list.js';

/** Options of `pavm plan`, for a case or a patient. */
export interface PlanOptions {
  out?: string;
  /** ISO date that lead times count from. */
  today?: string;
  root?: string;
  rules?: string;
  json?: boolean;
  /** Also write plan.html, plan and checklist as one printable page. */
  html?: boolean;
  /** Report on stderr the time and memory of each stage. */
  timings?: boolean;
}

/** The result of one case, checked against its schema, with the input for its documents. Draws nothing. */
export async function planResult(measured: MeasuredCase, todayOption?: string, given?: Shelf) {
  prepareCheck();
  const patientCase = measured.case;
  const shelf = given ?? (await caseShelf(patientCase));
  const printed = await inStage('print', () => printOf(measured));
  const pack = printed.pack;
  const findings = await measured.findings();
  const { result, counselling } = inStage('physiology', () =>
    assembleResult({
      ...measured,
      findings,
      printFindings: printed.findings,
      print: pack?.result,
      printAbsentBecause: printed.because,
      proposal: measured.proposed?.result,
      shelf,
      todayOption,
      version: packageVersion(),
    }),
  );
  const problems = await checkResult(result);
  if (problems.length > 0)
    throw new Error(`the result does not fit its schema: ${problems.slice(0, 3).join('; ')}`);
  return { result, counselling, pack };
}

/** The printable export, if there is one; no plan depends on it. */
async function printOf(
  measured: MeasuredCase,
): Promise<{ pack?: PrintPackage; findings: readonly Finding[]; because?: string }> {
  if (!measured.case.surfaces) return { findings: [] };
  try {
    const pack = await printPackageOf(measured);
    return { pack, findings: pack.findings };
  } catch (error) {
    if (!(error instanceof PrintGivenUp)) throw error;
    return { findings: error.findings, because: error.because };
  }
}

/** The result of a case without its print. */
export async function resultWithoutPrint(measured: MeasuredCase): Promise<Result> {
  const { result } = assembleResult({
    ...measured,
    findings: await measured.findings(),
    proposal: measured.proposed?.result,
    version: packageVersion(),
  });
  return result;
}

/** The figures from the scan, and the crop for the page's slices. Empty unless there is a scan that the surfaces match. */
export async function scanDrawings(
  { grey, structures, case: patientCase }: MeasuredCase,
  result: Result,
  marker: ProposalMarker,
): Promise<{ scan?: ScanPictureLinks & { figures: Figure[] }; slices?: PageScan }> {
  if (!grey) return {};
  const [{ scanPictures }, { scanFigures }, { pageScan }] = await Promise.all([
    import('../../witness/scan-pictures.js'),
    import('../../report/figures/scan-figures.js'),
    import('../../page/page-scan.js'),
  ]);
  const pictures = scanPictures({ result, structures, volume: grey });
  if (!pictures) return {};
  return {
    scan: {
      figures: marker.figures(scanFigures(pictures, result.vessels)),
      leftOut: pictures.leftOut,
    },
    slices: pageScan(grey, structures, patientCase.surfaces?.frame ?? 'unknown'),
  };
}

/** The folder `surfaces/` of a plan whose surface was made from the scan; the pictures of the scan are in `figures/`. */
async function surfacesOf(
  measured: MeasuredCase,
  result: Result,
  marker: ProposalMarker,
  pictures: readonly Figure[],
): Promise<OutputFile[]> {
  if (!measured.proposed) return [];
  const { surfaceFiles } = await import('../from-scan/surface-files.js');
  return surfaceFiles(measured, result, marker, pictures, '../figures/');
}

/** Every file of the plan folder, from one result. */
export async function planFiles(
  measured: MeasuredCase,
  todayOption?: string,
  html = false,
  shelf?: Shelf,
): Promise<{ files: OutputFile[]; result: Result; counselling: CounsellingSheet }> {
  const patientCase = measured.case;
  const { result, counselling, pack } = await planResult(measured, todayOption, shelf);
  const [{ figuresOf }, { lesionPieces }, { renderedViews, viewMarks, workingTargets }, { pageHtml }] =
    await Promise.all([
      import('../../report/figures/figures.js'),
      import('../../report/figures/lesion-pieces.js'),
      import('../../report/figures/rendered-views.js'),
      import('../../page/page-html.js'),
    ]);
  const marker = proposalMarker(result);
  const views = inStage('figures', () =>
    marker.figures(
      renderedViews({
        parts: lesionPieces(result, measured.structures),
        frame: patientCase.surfaces?.frame ?? 'unknown',
        side: patientCase.lesion.side,
        marks: viewMarks(result),
        working: workingTargets(result),
      }),
    ),
  );
  const { scan, slices } = await inStage('figures', () => scanDrawings(measured, result, marker));
  const drawn = [...inStage('figures', () => marker.figures(figuresOf(result))), ...views];
  const figures = [...(scan?.figures ?? []), ...drawn];
  const plan = marker.document(
    renderPlan(result, { figures: drawn, scan, values: statedValues(patientCase) }),
  );
  const checklist = marker.document(renderChecklist(result));
  const hour = renderUrgent(result);
  const urgent = hour === undefined ? undefined : marker.document(hour);
  const page = await inStage('page', () =>
    pageHtml({
      result,
      urgent,
      structures: measured.structures,
      frame: patientCase.surfaces?.frame ?? 'unknown',
      views,
      slices,
    }),
  );
  const files: OutputFile[] = [
    { path: 'plan.md', bytes: plan },
    { path: 'checklist.md', bytes: checklist },
    ...(urgent === undefined ? [] : [{ path: 'urgent.md', bytes: urgent }]),
    { path: 'counselling.md', bytes: marker.document(renderCounselling(counselling, result)) },
    { path: 'result.json', bytes: resultJson(result) },
    { path: 'page.html', bytes: marker.page(page) },
    ...figures.map(({ name, svg }) => ({ path: `figures/${name}`, bytes: svg })),
    ...(await surfacesOf(measured, result, marker, scan?.figures ?? [])),
  ];
  if (pack) {
    const printed = await inStage('print', () => printFolderFiles(pack, result, patientCase.surfaces!.frame));
    files.push(...printed.map(({ path, bytes }) => ({ path: `print/${path}`, bytes })));
  }
  if (html) {
    const { htmlDocument } = await import('../../report/html-document.js');
    const title = `Plan: ${result.title ?? `case ${result.case}`}`;
    const bytes = await htmlDocument({
      title,
      parts: [...(urgent === undefined ? [] : [urgent]), plan, renderChecklist(result, { isPart: true })],
      figures,
    });
    files.push({ path: 'plan.html', bytes: marker.page(bytes) });
  }
  return { files, result, counselling };
}
