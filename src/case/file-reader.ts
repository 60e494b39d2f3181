import { childPath, type LocatedYaml } from '../foundation/located-yaml.js';
import type { Quantity } from '../foundation/quantity.js';
import type { YesNoUnknown } from './case.js';
import type { Problems } from './problems.js';

/**
 * Typed look-ups by path in a parsed file. A value that is absent, of another type or already known to be wrong is undefined, so that
 * checks built on these never report the consequences of another mistake.
 */
export class FileReader {
  private readonly yaml: LocatedYaml;
  private readonly quantities: ReadonlyMap<string, Quantity>;
  private readonly problems: Problems;

  constructor(yaml: LocatedYaml, quantities: ReadonlyMap<string, Quantity>, problems: Problems) {
    this.yaml = yaml;
    this.quantities = quantities;
    this.problems = problems;
  }

  has(path: string): boolean {
    return this.yaml.get(path) !== undefined;
  }

  text(path: string): string | undefined {
    const value = this.yaml.get(path);
    return typeof value === 'string' && !this.problems.under(path) ? value : undefined;
  }

  /** A text or number exactly as written. */
  written(path: string): string | undefined {
    const value = this.yaml.get(path);
    return (typeof value === 'string' || typeof value === 'number') && !this.problems.under(path)
      ? this.yaml.source(path)
      : undefined;
  }

  /** A text that the schema has restricted to the words of T. */
  word<T extends string>(path: string): T | undefined {
    return this.text(path) as T | undefined;
  }

  number(path: string): number | undefined {
    const value = this.yaml.get(path);
    return typeof value === 'number' && Number.isFinite(value) && !this.problems.under(path)
      ? value
      : undefined;
  }

  boolean(path: string): boolean | undefined {
    const value = this.yaml.get(path);
    return typeof value === 'boolean' && !this.problems.under(path) ? value : undefined;
  }

  /** A quantity in the unit that the schema keeps it in. */
  quantity(path: string): number | undefined {
    return this.problems.under(path) ? undefined : this.quantities.get(path)?.value;
  }

  /** The unit in which a quantity was written. */
  writtenUnit(path: string): string | undefined {
    return this.quantities.get(path)?.unit;
  }

  source(path: string): string | undefined {
    return this.yaml.source(path);
  }

  yesNo(path: string): YesNoUnknown | undefined {
    const value = this.yaml.get(path);
    if (this.problems.under(path)) return undefined;
    if (value === true || value === 'yes') return 'yes';
    if (value === false || value === 'no') return 'no';
    return value === 'unknown' ? 'unknown' : undefined;
  }

  /** The paths of a list's items; none if there is no list. */
  items(path: string): string[] {
    const value = this.yaml.get(path);
    return Array.isArray(value) ? value.map((_, i) => childPath(path, i)) : [];
  }

  /** The entries of a mapping in the order of the file; none if there is no mapping. */
  entries(path: string): { key: string; path: string }[] {
    const value = this.yaml.get(path);
    if (value === undefined || value === null || typeof value !== 'object' || Array.isArray(value)) return [];
    return Object.keys(value).map((key) => ({ key, path: childPath(path, key) }));
  }

  /** The texts of a list, without those that are wrong. */
  texts(path: string): string[] {
    return this.items(path).flatMap((item) => this.text(item) ?? []);
  }
}
