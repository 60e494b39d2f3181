import { open, stat } from 'node:fs/promises';
import { shownPath } from '../../case/case-files.js';
import { EXIT, InputFailure } from '../../foundation/failure.js';
import { refuseLinkOutside } from '../../foundation/own-folder.js';
import { quoted } from '../../foundation/quoted-text.js';
import { readRegularFile } from '../../foundation/regular-file.js';
import { checkPatientResult, checkResult } from '../../report/result-check.js';
import type { PatientResult } from '../../result/patient-result.js';
import type { Result } from '../../result/result.generated.js';

/** Largest result.json that is accepted: a plan of 32 vessels has about 5 MB. */
const MOST_RESULT_BYTES = 256 * 1024 * 1024;

/** Enough for the first key of a result, its format. */
const HEAD_BYTES = 256;

/** Far above any quantity of a plan; sums and products of larger numbers could overflow. */
const LARGEST_NUMBER = 1e15;

interface ResultKind {
  format: string;
  check(value: unknown): Promise<string[]>;
  /** What to do if the file cannot be used. */
  again: string;
}
const OF_CASE: ResultKind = { format: 'pavm-result/1', check: checkResult, again: 'Plan the case again' };
const OF_PATIENT: ResultKind = {
  format: 'pavm-patient-result/1',
  check: checkPatientResult,
  again: 'Plan the patient again',
};

/** Reads and checks a result. Throws InputFailure (3) with what is wrong. */
export const readResult = async (path: string): Promise<Result> =>
  (await checked(bytesOf(path), shownPath(path), OF_CASE)) as Result;

/** The same for the result of a patient. */
export const readPatientResult = async (path: string): Promise<PatientResult> =>
  (await checked(bytesOf(path), shownPath(path), OF_PATIENT)) as PatientResult;

/** The bytes of a result file as a checked result. Throws InputFailure (3). */
export const parseResult = async (bytes: Uint8Array, shown: string): Promise<Result> =>
  (await checked(bytes, shown, OF_CASE)) as Result;

/**
 * Whether a file is the result of a patient. The first bytes are enough if `format` is the first key, as in every result that this
 * program writes; otherwise the whole file is parsed.
 */
export async function isPatientResult(path: string): Promise<boolean> {
  // opening a pipe would wait for a writer
  const facts = await stat(path).catch(() => undefined);
  const file = facts?.isFile() ? await open(path, 'r').catch(() => undefined) : undefined;
  if (!file) return false;
  try {
    const { buffer, bytesRead } = await file.read(Buffer.alloc(HEAD_BYTES), 0, HEAD_BYTES, 0);
    const first = /^\s*\{\s*"format"\s*:\s*"([^"]*)"/.exec(buffer.toString('utf8', 0, bytesRead));
    return (first ? first[1] : formatOf(path)) === OF_PATIENT.format;
  } finally {
    await file.close();
  }
}

/** The format stated in a JSON file; undefined if it states none or cannot be read. */
function formatOf(path: string): unknown {
  try {
    return (JSON.parse(new TextDecoder().decode(bytesOf(path))) as { format?: unknown } | null)?.format;
  } catch {
    return undefined;
  }
}

function bytesOf(path: string): Uint8Array {
  refuseLinkOutside(path, EXIT.input);
  return readRegularFile(path, {
    shown: shownPath(path),
    exitCode: EXIT.input,
    mostBytes: MOST_RESULT_BYTES,
  });
}

async function checked(
  bytes: Uint8Array,
  shown: string,
  { format, check, again }: ResultKind,
): Promise<unknown> {
  const refuse = (what: string): never => {
    throw new InputFailure(EXIT.input, `${shown}: ${what}. ${again}.`);
  };
  let value: unknown;
  try {
    value = JSON.parse(new TextDecoder().decode(bytes));
  } catch {
    // the parser's message would repeat content of the file
    return refuse('this is not JSON');
  }
  if ((value as { format?: unknown } | null)?.format !== format)
    refuse(`this is not a result of this edition (format: ${format} is needed)`);
  const problems = await check(value);
  if (problems.length > 0) refuse(`the result does not fit its schema (${problems.slice(0, 3).join('; ')})`);
  const large = tooLarge(value, 'result');
  if (large !== undefined) refuse(`${quoted(large)} is larger than any number of a plan`);
  return value;
}

/** The path of the first number that is too large for further computation. */
function tooLarge(value: unknown, path: string): string | undefined {
  if (typeof value === 'number') return Math.abs(value) > LARGEST_NUMBER ? path : undefined;
  if (typeof value !== 'object' || value === null) return undefined;
  for (const [key, item] of Object.entries(value)) {
    const found = tooLarge(item, `${path}.${key}`);
    if (found !== undefined) return found;
  }
  return undefined;
}
