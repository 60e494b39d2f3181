import { EXIT, InputFailure } from '../../foundation/failure.js';
import { quoted } from '../../foundation/quoted-text.js';
import type { MeasuredLesion } from '../../patient/all-lesions.js';
import { allVessels, wholeCase } from '../../patient/all-lesions.js';
import { patientClosure, remainderInForce } from '../../patient/assemble-patient.js';
import { caseShunts } from '../../physiology/case-shunts.js';
import { measuredMarker } from '../from-scan/measured-marker.js';
import { closureText } from '../terminal/closure-text.js';
import { sayFindings } from '../terminal/say-findings.js';
import type { Terminal } from '../terminal/terminal.js';
import { measuredLesions, measurePatient } from './measure-patient.js';
import { patientResult } from './plan-patient.js';

/**
 * `pavm close` of a patient file: virtual closure of any feeders (`LESION/NAME`), of whole lesions (`LESION`), of a session with those before it
 * (`session-2`) or, without names, of every useful set.
 */
export async function closePatient(
  file: string,
  names: readonly string[],
  occlusion: number | undefined,
  options: { json?: boolean; root?: string; rules?: string },
  terminal: Terminal,
): Promise<number> {
  const measured = await measurePatient(file, {
    root: options.root,
    rules: options.rules,
    headersOnly: true,
  });
  const { patient } = measured.onDisk;
  const lesions = measuredLesions(measured);
  const remainder = remainderInForce(patient, measured.failed);
  const whole = wholeCase(patient, lesions, remainder);
  const feeders = allVessels(lesions)
    .filter(({ role }) => role === 'feeder')
    .map(({ name }) => name);
  const sessions = names.some((name) => SESSION.test(name))
    ? (await patientResult(measured, {})).sessions.map(({ closes }) => closes)
    : [];
  const set = names.length === 0 ? undefined : [namedSet(names, lesions, feeders, sessions)];
  const shunts = caseShunts(whole, measured.rules);
  const given = { whole, shunts, lesions, remainder, rules: measured.rules };
  const closure = patientClosure({ ...given, occlusion, only: set });
  if (options.json) terminal.out(`${JSON.stringify(closure.rows, null, 2)}\n`);
  else {
    // nothing closed: computed with the same model as the rows, so that before and after are comparable
    const [now] = patientClosure({ ...given, only: [[]] }).rows;
    const marker = measuredMarker(...measured.lesions.map(({ measured: one }) => one));
    terminal.out(marker.text(closureText(shunts.closureShunt, now, closure)));
  }
  for (const { id, problems } of measured.failed)
    for (const line of problems) terminal.err(`${id}: ${line}\n`);
  const own = await Promise.all(measured.lesions.map(({ measured: one }) => one.findings()));
  const findings = [
    ...measured.findings,
    ...own.flatMap((found, i) =>
      found.map((one) => ({ ...one, where: `${measured.lesions[i].id}/${one.where}` })),
    ),
    ...shunts.findings,
    ...closure.findings,
  ];
  sayFindings(findings, terminal);
  const isAnswered = closure.rows.some((row) => row.shunt_fraction !== undefined);
  const isStopped = findings.some(({ level }) => level === 'stop');
  return Math.max(measured.failedCode, isAnswered && !isStopped ? EXIT.done : EXIT.stopFinding);
}

const SESSION = /^session-\d+$/;

function namedSet(
  names: readonly string[],
  lesions: readonly MeasuredLesion[],
  feeders: readonly string[],
  sessions: readonly (readonly string[])[],
): string[] {
  const known = [...feeders, ...lesions.map(({ id }) => id), ...sessions.map((_, k) => `session-${k + 1}`)];
  const closed = names.flatMap((name) => {
    if (feeders.includes(name)) return [name];
    if (lesions.some(({ id }) => id === name)) return feeders.filter((one) => one.startsWith(`${name}/`));
    const number = SESSION.test(name) ? Number(name.slice('session-'.length)) : 0;
    if (number >= 1 && number <= sessions.length) return sessions.slice(0, number).flat();
    const sides = name.toLowerCase() === 'lobe' ? ' A lobe belongs to one lesion: see its own plan.' : '';
    throw new InputFailure(
      2,
      `close: ${quoted(name)} is not a feeder, lesion or session of this patient.${sides} Known: ${known.join(', ')}.`,
    );
  });
  return feeders.filter((name) => closed.includes(name));
}
