import type { GasSample } from '../../case/case.js';
import { EXIT, InputFailure } from '../../foundation/failure.js';
import type { Finding } from '../../foundation/finding.js';
import { numberFlag, quantityFlag } from '../../foundation/quantity.js';
import type { Visit } from '../../physiology/visit.js';
import { caseShunts } from '../../physiology/case-shunts.js';
import { computeShunt, type ShuntOutcome } from '../../physiology/compute-shunt.js';
import type { ShuntChange } from '../../physiology/shunt-change.js';
import type { ShuntInput } from '../../physiology/shunt-input.js';
import type { Shunt } from '../../result/result.generated.js';
import { rulesInForce } from '../../rules/rules-in-force.js';
import type { Rules } from '../../rules/rule.js';
import { sayFindings } from '../terminal/say-findings.js';
import { changeLine, shuntText } from '../terminal/shunt-text.js';
import type { Terminal } from '../terminal/terminal.js';

export interface ShuntOptions {
  po2?: string;
  pco2?: string;
  hb?: string;
  fio2?: string;
  so2?: string;
  ph?: string;
  temperature?: string;
  altitude?: string;
  pressure?: string;
  pvo2?: string;
  svo2?: string;
  avDifference?: string;
  minutes?: string;
  /** A folder of the hospital's own rule files. */
  rules?: string;
  json?: boolean;
}

/** Options allowed with a CASE as well as with flags. */
const BESIDE: ReadonlySet<string> = new Set(['json', 'rules']);
const FLAGS = 'flags';
const EXAMPLE =
  'Example: pavm shunt --fio2 1.0 --po2 210mmHg --pco2 34mmHg --hb 15g/dL --pressure 712mmHg --minutes 20';

/**
 * `pavm shunt`: the shunt of one arterial sample given as flags, or of the samples of a case; for a treated case the shunt after
 * treatment comes first. Returns 1 if no shunt can be given or there is a stop-level finding. `--json` prints the `shunt` object of the
 * visit that a plan depends on (`when` says which), with `shunt_before` and `shunt_after` if the case was treated, and with `findings`.
 */
export async function run(
  args: readonly string[],
  options: ShuntOptions,
  terminal: Terminal,
): Promise<number> {
  const typed = Object.entries(options).filter(([key, value]) => !BESIDE.has(key) && value !== undefined);
  const rules = await rulesInForce(options.rules);
  if (args.length > 1) throw new InputFailure(2, `shunt takes one CASE, not ${args.length}. ${EXAMPLE}`);
  if (args.length === 0) {
    if (typed.length === 0)
      throw new InputFailure(2, `shunt needs blood gases as flags, or a CASE. ${EXAMPLE}`);
    const outcome = inFlagWords(computeShunt(inputOfFlags(options), rules));
    const parts = [{ title: 'Right-to-left shunt', outcome }];
    return report({ parts, findings: outcome.findings }, { json: options.json, rules }, terminal);
  }
  if (typed.length > 0) {
    throw new InputFailure(
      2,
      `shunt takes a CASE or flags, not both: leave out ${typed.map(([key]) => flagName(key)).join(', ')}.`,
    );
  }
  // flags alone do not need the reader of case files
  const { readCaseFile } = await import('../../case/read-case.js');
  const { case: patientCase, findings } = await readCaseFile(args[0]);
  const shunts = caseShunts(patientCase, rules);
  const turned: Visit = shunts.baseline === 'after' ? 'before' : 'after';
  // If the visit that a plan is based on has no sample, the answer comes from the other visit.
  const isTurned = !shunts.headline.shunt && shunts[turned].shunt !== undefined;
  const [first, other]: Visit[] = isTurned ? [turned, shunts.baseline] : [shunts.baseline, turned];
  const shown = shunts[other].shunt ? [first, other] : [first];
  const title = (visit: Visit): string =>
    shown.length > 1 || (visit === 'after' && shunts.after.shunt)
      ? `Right-to-left shunt ${visit} treatment`
      : 'Right-to-left shunt';
  const parts = shown.map((visit) => ({ title: title(visit), outcome: shunts[visit] }));
  return report(
    { parts, change: shunts.change, findings: [...findings, ...shunts.findings] },
    { json: options.json, rules },
    terminal,
    (path) => `${patientCase.locate(path)} `,
  );
}

function report(
  {
    parts,
    change,
    findings: found,
  }: {
    parts: { title: string; outcome: ShuntOutcome }[];
    change?: ShuntChange;
    findings: readonly Finding[];
  },
  { json, rules }: { json?: boolean; rules: Rules },
  terminal: Terminal,
  locate: (path: string) => string = () => '',
): number {
  const findings = [...rules.findings, ...found];
  if (json) {
    const none: Shunt = { method: 'content', assumed: [], absent_because: 'There is no arterial blood gas.' };
    const of = (when: Shunt['when']) =>
      parts.find(({ outcome }) => outcome.shunt?.when === when)?.outcome.shunt;
    const [headline, before, after] = [parts[0].outcome.shunt, of('before'), of('after')];
    const answer = {
      ...(headline ?? none),
      ...(before && before !== headline && { shunt_before: before }),
      ...(after && { shunt_after: after }),
      findings,
    };
    terminal.out(`${JSON.stringify(answer, null, 2)}\n`);
  } else {
    const texts = parts.map(({ title, outcome }) => shuntText(title, outcome, rules));
    if (change) texts.push(changeLine(change));
    terminal.out(texts.join('\n'));
  }
  sayFindings(findings, terminal, { locate: (f) => locate(f.where).trim() });
  const answered = parts.some(({ outcome }) => outcome.shunt?.fraction !== undefined);
  return answered && findings.every((f) => f.level !== 'stop') ? EXIT.done : EXIT.stopFinding;
}

function inputOfFlags(options: ShuntOptions): ShuntInput {
  const { po2, so2, fio2, hb, pvo2, svo2 } = options;
  if (fio2 === undefined)
    throw new InputFailure(
      2,
      `--fio2 is missing: write --fio2 1.0 for 100 % oxygen, --fio2 0.21 for air. ${EXAMPLE}`,
    );
  if (po2 === undefined && so2 === undefined) throw new InputFailure(2, `--po2 is missing. ${EXAMPLE}`);
  if (options.altitude !== undefined && options.pressure !== undefined) {
    throw new InputFailure(
      2,
      '--altitude and --pressure are both given: leave out --altitude, the measured pressure is better.',
    );
  }
  const pressure = (flag: string, text: string | undefined) =>
    text && quantityFlag(flag, text, 'pressure', 'mmHg');
  const saturation = (flag: string, text: string | undefined) => {
    if (text === undefined) return undefined;
    const value = quantityFlag(flag, text, 'fraction', 'fraction');
    if (value < 0 || value > 1) throw new InputFailure(2, `${flag}: "${text}" is outside 0 to 100 %.`);
    return value;
  };
  const notNegative = (flag: string, value: number | undefined | '') => {
    if (value === undefined || value === '') return undefined;
    if (value < 0) throw new InputFailure(2, `${flag}: the value is below zero.`);
    return value;
  };
  const arterial: GasSample = {
    name: 'arterial',
    when: 'before',
    site: 'arterial',
    path: FLAGS,
    fio2: inspired(fio2),
    po2MmHg: notNegative('--po2', pressure('--po2', po2)),
    so2Fraction: saturation('--so2', so2),
    pco2MmHg: notNegative('--pco2', pressure('--pco2', options.pco2)),
    ph: options.ph === undefined ? undefined : numberFlag('--ph', options.ph),
    temperatureC:
      options.temperature === undefined
        ? undefined
        : quantityFlag('--temperature', options.temperature, 'temperature', 'degC'),
    altitudeM:
      options.altitude === undefined
        ? undefined
        : quantityFlag('--altitude', options.altitude, 'altitude', 'm'),
    barometricMmHg: notNegative('--pressure', pressure('--pressure', options.pressure)),
    minutesOnOxygen:
      options.minutes === undefined
        ? undefined
        : notNegative(
            '--minutes',
            quantityFlag('--minutes', options.minutes, 'duration', 'min', { bareUnit: 'min' }),
          ),
  };
  const samples = [arterial];
  if (pvo2 !== undefined || svo2 !== undefined) {
    samples.push({
      name: 'mixed-venous',
      when: 'before',
      site: 'mixed-venous',
      path: 'the mixed-venous sample',
      po2MmHg: notNegative('--pvo2', pressure('--pvo2', pvo2)),
      so2Fraction: saturation('--svo2', svo2),
    });
  }
  const difference =
    options.avDifference === undefined
      ? undefined
      : quantityFlag('--av-difference', options.avDifference, 'content', 'mL/dL');
  if (difference !== undefined && !(difference > 0))
    throw new InputFailure(2, '--av-difference: the difference must be above zero.');
  return {
    samples,
    when: 'before',
    haemoglobinGDl: notNegative('--hb', hb && quantityFlag('--hb', hb, 'haemoglobin', 'g/dL')),
    avDifferenceMlDl: difference,
  };
}

/** A bare fraction or a percentage. */
function inspired(text: string): number {
  const value = text.includes('%')
    ? quantityFlag('--fio2', text, 'fraction', 'fraction')
    : numberFlag('--fio2', text);
  if (!(value > 0 && value <= 1)) {
    throw new InputFailure(
      2,
      `--fio2: "${text}" is not a fraction above 0 and up to 1. Write for example 1.0, 0.21 or "21 %".`,
    );
  }
  return value;
}

/** Replaces `gases[0].po2` by `--po2` in findings. */
function inFlagWords(outcome: ShuntOutcome): ShuntOutcome {
  const words = (text: string) =>
    text
      .replaceAll(`${FLAGS}.minutes_on_oxygen`, '--minutes')
      .replaceAll(`${FLAGS}.`, '--')
      .replace(/^flags$/, 'command line')
      .replace(/^blood(\.haemoglobin)?$/, '--hb')
      .replace(/^flags /, 'The sample ');
  const shunt = outcome.shunt && {
    ...outcome.shunt,
    ...(outcome.shunt.absent_because === undefined
      ? {}
      : { absent_because: words(outcome.shunt.absent_because) }),
  };
  const findings = outcome.findings.map((f) => ({ ...f, where: words(f.where), text: words(f.text) }));
  return { ...outcome, shunt, findings };
}

function flagName(key: string): string {
  return `--${key.replace(/[A-Z]/g, (letter) => `-${letter.toLowerCase()}`)}`;
}
