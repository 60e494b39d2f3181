import { InputFailure } from '../foundation/failure.js';
import type { LocatedYaml, Position } from '../foundation/located-yaml.js';

/** More lines of one kind than this do not help; the rest of the kind is counted. */
const MOST_OF_A_KIND = 100;

type Text = string | (() => string);

interface Problem {
  at: Position;
  /** The whole line after `FILE:LINE:COLUMN `; `isWhole`: the line itself. */
  text: Text;
  path: string;
  isWhole: boolean;
  kind: string;
}

/** Collects the faults of one file and of the files it names, one line per place, and reports all of them in file order. */
export class Problems {
  private readonly list: Problem[] = [];
  private readonly paths = new Set<string>();
  /** Every path with a problem at it or below it. */
  private readonly above = new Set<string>();
  private readonly yaml: LocatedYaml;
  private readonly fileName: string;
  private readonly exitCode: 2 | 3;

  /** Mistakes that the parser kept are the first problems. */
  constructor(yaml: LocatedYaml, fileName: string, exitCode: 2 | 3) {
    this.yaml = yaml;
    this.fileName = fileName;
    this.exitCode = exitCode;
    for (const { at, text } of yaml.slips)
      this.list.push({ at, text, path: '', isWhole: false, kind: kindOf(text) });
  }

  /**
   * Notes a fault at a path, in sentences. A second problem at the same path follows from the first and is dropped. A text given as a
   * function is only computed when it is shown; `kind` then states what it has in common with others.
   */
  add(path: string, text: Text, at: Position = this.yaml.position(path), kind?: string): void {
    if (this.paths.has(path)) return;
    this.paths.add(path);
    this.list.push({ path, at, text, isWhole: false, kind: kind ?? kindOf(text) });
    this.above.add('');
    for (let current = path; current !== ''; ) {
      this.above.add(current);
      current = current.slice(0, Math.max(0, current.lastIndexOf('.'), current.lastIndexOf('[')));
    }
  }

  /** Notes whole lines about a file that the value at `path` names; they are sorted to the place where it is named. */
  addLines(path: string, lines: readonly string[]): void {
    const at = this.yaml.position(path);
    for (const text of lines) this.list.push({ path, at, text, isWhole: true, kind: kindOf(text) });
  }

  /** Whether a problem was already noted at or below this path, so that dependent checks must not report anything. */
  under(path: string): boolean {
    return this.above.has(path);
  }

  /** Whether a problem was noted at exactly this path, such as a list with too many entries. */
  at(path: string): boolean {
    return this.paths.has(path);
  }

  /** `FILE:LINE:COLUMN` of a path, for a message that names a second place. */
  place(path: string): string {
    return this.placeAt(this.yaml.position(path));
  }

  get isEmpty(): boolean {
    return this.list.length === 0;
  }

  /**
   * `FILE:LINE:COLUMN PATH: what is wrong`, one line each, in file order; only a limited number of each kind, the rest counted at the end.
   */
  lines(): string[] {
    const sorted = [...this.list].sort((a, b) => a.at.line - b.at.line || a.at.col - b.at.col);
    const kinds = new Map<string, Problem[]>();
    const lines: string[] = [];
    for (const problem of sorted) {
      const same = kinds.get(problem.kind) ?? [];
      kinds.set(problem.kind, same);
      if (same.push(problem) <= MOST_OF_A_KIND) lines.push(this.line(problem));
    }
    for (const same of kinds.values()) {
      const more = same.length - MOST_OF_A_KIND;
      if (more > 0)
        lines.push(
          `${this.fileName}: and ${more} more problem${more > 1 ? 's' : ''} like the one at ${same[0].at.line}:${same[0].at.col}. Mend these first.`,
        );
    }
    return lines;
  }

  /** Throws InputFailure with `lines` if anything was noted. */
  throwIfAny(exitCode: 2 | 3 = this.exitCode): void {
    if (!this.isEmpty) throw new InputFailure(exitCode, this.lines());
  }

  private line({ path, at, text, isWhole }: Problem): string {
    const said = typeof text === 'string' ? text : text();
    return isWhole ? said : `${this.placeAt(at)} ${path === '' ? '' : `${path}: `}${said}`;
  }

  private placeAt({ line, col }: Position): string {
    return `${this.fileName}:${line}:${col}`;
  }
}

/** A text without the parts written by the user and without numbers: problems with the same remainder are of one kind. */
const kindOf = (text: Text): string =>
  typeof text === 'string' ? text.replace(/"[^"]*"|\S*[\d[]\S*/g, '#') : 'unnamed';
