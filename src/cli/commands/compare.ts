import { stat } from 'node:fs/promises';
import { basename, dirname, extname, join, resolve } from 'node:path';
import { shownPath, systemProblem } from '../../case/case-files.js';
import { type Comparison, compareResults } from '../../compare/compare.js';
import { comparisonJson } from '../../compare/comparison-json.js';
import { comparisonText, isComparison } from '../../compare/comparison-text.js';
import { verdictLine, withObstacle } from '../../compare/verdict.js';
import type { CompareCommandOptions } from '../compare/compare-options.js';
import { EXIT, InputFailure } from '../../foundation/failure.js';
import type { Figure } from '../../report/figures/figures.js';
import { isFigure, slug } from '../../report/figures/svg.js';
import { markerOf } from '../../report/proposal-mark.js';
import { proposalMark } from '../../result/proposal.js';
import type { Result } from '../../result/result.generated.js';
import { rulesInForce } from '../../rules/rules-in-force.js';
import type { Rules } from '../../rules/rule.js';
import { type MeasuredCase, measureCase } from '../measure/measure-case.js';
import { readResult } from '../input/read-result.js';
import { sayFindings } from '../terminal/say-findings.js';
import type { Terminal } from '../terminal/terminal.js';
import { checkToday } from '../input/today-flag.js';
import { settle } from '../output/unfinished.js';
import { writeWhole } from '../output/write-whole.js';
import { planResult } from '../plan/plan-files.js';

/**
 * `pavm compare OLD NEW`: two plan folders, result files or cases. A case is computed in memory. Markdown to stdout or `--out`, or JSON
 * with `--json`. Returns 0 if the plan is unchanged, 1 if it changes or the two cannot be compared.
 */
export async function run(
  args: readonly string[],
  options: CompareCommandOptions,
  terminal: Terminal,
): Promise<number> {
  const [oldPath, newPath] = args;
  if (oldPath === undefined || newPath === undefined)
    throw new InputFailure(
      EXIT.usage,
      'compare: name the old and the new plan, for example: pavm compare cases/tern-before cases/tern-after',
    );
  checkToday(options.today);
  const rules = await rulesInForce(options.rules);
  sayFindings(rules.findings, terminal);
  const { comparePatientPaths, isPatient } = await import('../patient/compare-patient.js');
  if ((await isPatient(oldPath)) || (await isPatient(newPath)))
    return comparePatientPaths(oldPath, newPath, options, rules, terminal);
  const [old, now] = [await readSide(oldPath, options), await readSide(newPath, options)];
  const comparison = compareResults(old.result, now.result, { rules, treated: options.treated });
  if (old.unit !== undefined && now.unit !== undefined && old.unit !== now.unit)
    comparison.notes.push(
      `The meshes of the old case are in ${old.unit}, those of the new one in ${now.unit}; both were converted to mm.`,
    );
  const figures = options.overlay ? await addOverlay(comparison, old, now, options, rules) : [];
  if (options.json) terminal.out(comparisonJson(comparison));
  const marker = markerOf(proposalMark(old.result) ?? proposalMark(now.result));
  const text = marker.document(comparisonText(comparison));
  if (options.out !== undefined) {
    // the document comes last, after the pictures that it shows
    for (const { name, svg } of figures)
      await writeWhole(
        { path: join(dirname(options.out), name), flag: '--out', isOurs: (there) => isFigure(name, there) },
        marker.svg(svg),
      );
    await writeWhole(
      {
        path: options.out,
        flag: '--out',
        isOurs: isComparison,
        inputs: [oldPath, newPath].filter((path) => path.endsWith('.json') || path.endsWith('.yaml')),
      },
      text,
    );
    if (!terminal.quiet)
      terminal.err(`${verdictLine(comparison)}\nThe comparison is in ${shownPath(options.out)}\n`);
  } else if (!options.json) terminal.out(text);
  return comparison.verdict === 'plan stands' ? EXIT.done : EXIT.stopFinding;
}

interface ReadSide {
  result: Result;
  /** Unit of the meshes, if the side is a case. */
  unit?: string;
  /** If the side is a case. */
  measured?: MeasuredCase;
  /** Folder of the plan, if the side is one. */
  planFolder?: string;
}

/** Lays the new surfaces over the old ones and adds the overlay to the comparison; returns the pictures for `--out`. */
async function addOverlay(
  comparison: Comparison,
  old: ReadSide,
  now: ReadSide,
  options: CompareCommandOptions,
  rules: Rules,
): Promise<Figure[]> {
  const { layOver } = await import('../../compare/overlay.js');
  const { registrationRules } = await import('../../geometry/register/registration-rules.js');
  const sides: MeasuredCase[] = [];
  for (const [which, side] of [
    ['old', old],
    ['new', now],
  ] as const) {
    const found = await surfacesOf(side, options);
    if (typeof found === 'string') {
      comparison.overlayAbsentBecause = `the surfaces of the ${which} scan are not at hand: ${found}`;
      return [];
    }
    sides.push(found);
  }
  const [before, after] = sides.map(({ structures, case: { surfaces, scan } }) => ({
    structures,
    frame: surfaces!.frame,
    scan,
  }));
  const laid = layOver(before, after, comparison.vessels, rules, registrationRules(rules));
  if ('absentBecause' in laid) {
    comparison.overlayAbsentBecause = laid.absentBecause;
    if (laid.isMirrored && comparison.verdict !== 'not comparable')
      Object.assign(
        comparison,
        withObstacle(
          comparison,
          'the surfaces of the new scan are a mirror image of the old ones; check surfaces.frame and the export of both cases',
        ),
      );
    return [];
  }
  comparison.overlay = laid.overlay;
  if (options.out === undefined) return [];
  const { overlayFigures } = await import('../compare/overlay-figures.js');
  const stem = basename(options.out, extname(options.out));
  const figures = await overlayFigures(laid, slug(stem), before.frame, sides[0].case.lesion.side);
  laid.overlay.figures = figures.map(({ name }) => name);
  return figures;
}

/** The measured case behind a side, or why there is none. A plan's case must be exactly the one that was planned. */
async function surfacesOf(side: ReadSide, options: CompareCommandOptions): Promise<MeasuredCase | string> {
  if (side.measured) return side.measured.case.surfaces ? side.measured : 'the case names no surfaces';
  if (side.planFolder === undefined) return 'a result file has none; give the case';
  const folder = dirname(resolve(side.planFolder));
  let measured: MeasuredCase;
  try {
    measured = await measureCase(folder, { root: options.root, rules: options.rules });
  } catch (error) {
    if (!(error instanceof InputFailure)) throw error;
    return `there is no usable case beside the plan folder (${error.problems[0]})`;
  }
  const now = new Map(measured.inputs.map(({ path, sha256 }) => [path, sha256]));
  const changed = side.result.inputs.find(({ path, sha256 }) => now.get(path) !== sha256);
  if (changed) return `${changed.path} beside the plan folder is not the file that was planned`;
  return measured.case.surfaces ? measured : 'the case names no surfaces';
}

/** A result file, a folder that holds one, or else a case. */
async function readSide(path: string, options: CompareCommandOptions): Promise<ReadSide> {
  // a run that was killed while replacing the plan may have left it under another name
  await settle(path.endsWith('.json') ? dirname(path) : path);
  const facts = await stat(path).catch((error: unknown) => {
    throw new InputFailure(EXIT.usage, `${shownPath(path)}: ${systemProblem(error)}`);
  });
  if (facts.isFile() && path.endsWith('.json'))
    return {
      result: await readResult(path),
      ...(basename(path) === 'result.json' && { planFolder: dirname(path) }),
    };
  if (facts.isDirectory()) {
    const file = join(path, 'result.json');
    if (await isFile(file)) return { result: await readResult(file), planFolder: path };
  }
  const measured = await measureCase(path, { root: options.root, rules: options.rules });
  const { result } = await planResult(measured, options.today);
  return { result, measured, ...(measured.case.surfaces && { unit: measured.case.surfaces.unit }) };
}

const isFile = (path: string): Promise<boolean> =>
  stat(path).then(
    (facts) => facts.isFile(),
    () => false,
  );
