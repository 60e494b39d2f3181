import { InputFailure } from '../foundation/failure.js';
import type { LocatedYaml, Position } from '../foundation/located-yaml.js';

/** More lines than this help nobody; the rest is counted. */
const MOST_SHOWN = 100;

/** Collects what is wrong with one file, one line per place, and reports all of it in file order. */
export class Problems {
  private readonly list: { path: string; at: Position; text: string | (() => string) }[] = [];
  private readonly paths = new Set<string>();
  /** Every path with a problem at it or below it. */
  private readonly above = new Set<string>();
  private readonly yaml: LocatedYaml;
  private readonly fileName: string;
  private readonly exitCode: 2 | 3;

  constructor(yaml: LocatedYaml, fileName: string, exitCode: 2 | 3) {
    this.yaml = yaml;
    this.fileName = fileName;
    this.exitCode = exitCode;
  }

  /**
   * Notes what is wrong at a path, in sentences. A second problem of the same path is an echo and is dropped. A text given as a function
   * is only made when it is shown.
   */
  add(path: string, text: string | (() => string), at: Position = this.yaml.position(path)): void {
    if (this.paths.has(path)) return;
    this.paths.add(path);
    this.list.push({ path, at, text });
    this.above.add('');
    for (let current = path; current !== ''; ) {
      this.above.add(current);
      current = current.slice(0, Math.max(0, current.lastIndexOf('.'), current.lastIndexOf('[')));
    }
  }

  /** Whether something at this path or below it is wrong already, so that checks resting on it must be silent. */
  under(path: string): boolean {
    return this.above.has(path);
  }

  /** Whether a problem was noted at this very path, such as a list with too many entries. */
  at(path: string): boolean {
    return this.paths.has(path);
  }

  /** `FILE:LINE:COLUMN` of a path, for a message that names a second place. */
  place(path: string): string {
    const { line, col } = this.yaml.position(path);
    return `${this.fileName}:${line}:${col}`;
  }

  /** Throws InputFailure with `FILE:LINE:COLUMN PATH: what is wrong` lines when anything was noted. */
  throwIfAny(): void {
    if (this.list.length === 0) return;
    const sorted = [...this.list].sort((a, b) => a.at.line - b.at.line || a.at.col - b.at.col);
    const lines = sorted
      .slice(0, MOST_SHOWN)
      .map(
        ({ path, at, text }) =>
          `${this.fileName}:${at.line}:${at.col} ${path === '' ? '' : `${path}: `}${typeof text === 'string' ? text : text()}`,
      );
    const more = sorted.length - lines.length;
    if (more > 0) lines.push(`${this.fileName}: and ${more} more problems of this file. Mend these first.`);
    throw new InputFailure(this.exitCode, lines);
  }
}
