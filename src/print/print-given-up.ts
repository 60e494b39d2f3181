import { type Finding, finding } from '../foundation/finding.js';

/** Thrown if the export exceeds its limit of work: there is no model, but the findings so far still hold. */
export class PrintGivenUp extends Error {
  /** Why there is no print, as a clause. */
  readonly because: string;
  readonly findings: Finding[];

  constructor(doing: string, findings: readonly Finding[]) {
    const because = `making the printable model was given up after a fixed amount of work, while ${doing}`;
    super(because);
    this.name = 'PrintGivenUp';
    this.because = because;
    const text = `${because[0].toUpperCase()}${because.slice(1)}: nothing is printed. Print a solid model (print.hollow: no), leave structures beside the lesion out, or simplify and clean the surfaces where they were segmented.`;
    this.findings = [...findings, finding('stop', 'print-given-up', 'print', text)];
  }
}
