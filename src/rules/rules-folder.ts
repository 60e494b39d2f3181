import { readdirSync, readFileSync, realpathSync, type Stats, statSync } from 'node:fs';
import { basename, join } from 'node:path';
import { InputFailure } from '../foundation/failure.js';
import { type Finding, finding } from '../foundation/finding.js';
import { decodeYaml } from '../foundation/located-yaml.js';
import { YAML_LIMITS } from '../foundation/yaml-limits.js';
import { holds } from '../foundation/own-folder.js';
import { visible } from '../foundation/quoted-text.js';

/** A rule file's name and text. */
export interface RuleFile {
  name: string;
  text: string;
}

const RULE_FILE = /\.ya?ml$/i;
/** More names than this do not help; the rest is counted. */
const MOST_NAMED = 100;

/**
 * Reads every rule file of a hospital's folder, by name: `.yaml` and `.yml` in upper or lower case, also through symbolic links that stay
 * inside the folder, as in a mounted configuration volume. A rule file that cannot be read is rejected; every other file is named in a
 * finding. Throws InputFailure (2).
 */
export function readRulesFolder(dir: string): { files: RuleFile[]; findings: Finding[] } {
  let folder: string;
  let names: string[];
  try {
    folder = realpathSync(dir);
    names = readdirSync(folder).sort();
  } catch {
    throw new InputFailure(
      2,
      `--rules: the folder "${basename(dir)}" cannot be read. Name a folder that holds rule files (*.yaml).`,
    );
  }
  const files: RuleFile[] = [];
  /** The name by which each file was read first, by its location on disk. */
  const read = new Map<string, string>();
  const others: string[] = [];
  const folders: { name: string; real: string }[] = [];
  const problems: string[] = [];
  for (const name of names) {
    const path = join(folder, name);
    const isRuleFile = RULE_FILE.test(name);
    let real: string;
    let facts: Stats;
    try {
      real = realpathSync(path);
      facts = statSync(real);
    } catch {
      if (isRuleFile)
        problems.push(`${name}:1:1 this rule file cannot be opened. Repair the link or its permissions.`);
      else others.push(name);
      continue;
    }
    if (facts.isDirectory() && holds(folder, real)) {
      folders.push({ name, real });
      continue;
    }
    if (!isRuleFile) {
      others.push(name);
      continue;
    }
    const problem = problemOf(real, facts, folder);
    const before = read.get(real);
    if (problem !== undefined) problems.push(`${name}:1:1 ${problem}`);
    else if (before !== undefined) others.push(`${name} (the same file as ${before})`);
    else {
      read.set(real, name);
      files.push({ name, text: textOf(real, name) });
    }
  }
  if (problems.length > 0) throw new InputFailure(2, problems);
  if (files.length === 0)
    throw new InputFailure(
      2,
      `--rules: the folder "${basename(dir)}" contains no rule file (*.yaml or *.yml).`,
    );
  for (const { name, real } of folders) others.push(...unreadOf(name, real, read));
  return { files, findings: notReadFinding(others) };
}

function problemOf(real: string, facts: Stats, folder: string): string | undefined {
  if (!holds(folder, real))
    return 'this rule file is a symbolic link out of the rules folder. Copy the file into the folder.';
  if (!facts.isFile()) return 'this is not a regular file. Put rule files into the folder.';
  if (facts.size > YAML_LIMITS.bytes)
    return `the file has ${facts.size} bytes; at most ${YAML_LIMITS.bytes} are read. Split it.`;
  return undefined;
}

function textOf(path: string, name: string): string {
  let bytes: Uint8Array;
  try {
    bytes = readFileSync(path);
  } catch {
    throw new InputFailure(2, `${name}:1:1 this rule file may not be read. Check its permissions.`);
  }
  return decodeYaml(bytes, name, { exitCode: 2 });
}

/**
 * The parts of a subfolder that were not read: the folder itself or, if links lead to files in it, those of its files that no link leads
 * to. A folder found again under another name is named once, by the name that sorts first.
 */
function unreadOf(name: string, real: string, read: Map<string, string>): string[] {
  const within = [...read.keys()].some((path) => holds(real, path));
  if (!within) return [`${name}/`];
  const unread = readdirSync(real)
    .sort()
    .filter((one) => {
      const path = join(real, one);
      return ![...read.keys()].some((known) => holds(path, known));
    })
    .map((one) => join(real, one));
  const fresh = unread.filter((path) => !read.has(path));
  for (const path of fresh) read.set(path, name);
  return fresh.map((path) => `${name}/${basename(path)}`);
}

function notReadFinding(names: readonly string[]): Finding[] {
  if (names.length === 0) return [];
  const shown = names.slice(0, MOST_NAMED).map((name) => visible(name));
  if (names.length > MOST_NAMED) shown.push(`and ${names.length - MOST_NAMED} more`);
  return [
    finding(
      'note',
      'rules-file-not-read',
      '--rules',
      `Not read from the rules folder: ${shown.join(', ')}. Rule files are NAME.yaml or NAME.yml directly in it, or links to files inside it.`,
    ),
  ];
}
