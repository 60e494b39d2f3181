import { execFileSync, spawnSync } from 'node:child_process';

/** What a program of dcmtk, another implementation of DICOM, writes to stdout. */
export const dcmtk = (program: string, args: readonly string[]): Buffer =>
  execFileSync(program, [...args], { maxBuffer: 1 << 24 });

const TRIED = 'dcmcrle';
export const hasDcmtk = spawnSync(TRIED, ['--version']).status === 0;
