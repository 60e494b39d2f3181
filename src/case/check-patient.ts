import { dottedPath } from '../foundation/dotted-path.js';
import { type Finding, finding } from '../foundation/finding.js';
import { nearestKey } from '../foundation/nearest-key.js';
import { parseQuantity } from '../foundation/quantity.js';
import { quoted } from '../foundation/quoted-text.js';
import type { Lobe } from './case.js';
import type { FileReader } from './file-reader.js';
import type { Problems } from './problems.js';
import { KNOWN_ALLERGIES, SEGMENTS } from './vocabulary.js';

/** Inspired oxygen of a sample as a fraction, from a bare fraction or a text with %. Undefined if absent or wrong. */
export function inspiredFraction(reader: FileReader, sample: string): number | undefined {
  const path = `${sample}.fio2`;
  const text = reader.text(path);
  if (text === undefined) return reader.number(path);
  const result = parseQuantity(text, 'fraction', 'fraction');
  return result.ok ? result.value : undefined;
}

/** Notes an inspired oxygen that is written as text but is not a percentage. */
export function checkInspiredText(reader: FileReader, problems: Problems): void {
  for (const sample of reader.items('gases')) {
    const text = reader.text(`${sample}.fio2`);
    if (text === undefined) continue;
    const result = parseQuantity(text, 'fraction', 'fraction', { examples: ['100 %'] });
    if (!result.ok) problems.add(`${sample}.fio2`, `${result.problem} Or a fraction without a unit: 1.0.`);
  }
}

/** Checks of the samples: possible tensions, one barometric pressure, and defaults that were used. */
export function checkGases(reader: FileReader, problems: Problems, findings: Finding[]): void {
  const names = new Map<string, string>();
  for (const sample of reader.items('gases')) {
    const name = reader.text(`${sample}.name`);
    if (name !== undefined) {
      const before = names.get(name);
      if (before)
        problems.add(`${sample}.name`, `${quoted(name)} is the name of ${before} too. Names must differ.`);
      else names.set(name, sample);
    }
    if (reader.has(`${sample}.altitude`) && reader.has(`${sample}.pressure`)) {
      findings.push(
        finding(
          'note',
          'pressure-over-altitude',
          sample,
          'Both altitude and pressure are given: the pressure is used, the altitude is not.',
        ),
      );
    }
    for (const [key, value] of [
      ['when', 'before'],
      ['site', 'arterial'],
    ] as const) {
      if (!reader.has(`${sample}.${key}`)) {
        findings.push(
          finding(
            'note',
            `sample-${key}-assumed`,
            sample,
            `The sample does not say ${key === 'when' ? 'whether it was drawn before or after treatment' : 'where it was drawn'}; it is taken as ${value}.`,
          ),
        );
      }
    }
  }
}

/** Side, lobe and segments must agree. */
export function checkLesion(reader: FileReader, problems: Problems, findings: Finding[]): void {
  const side = reader.word<'left' | 'right'>('lesion.side');
  const lobe = reader.word<Lobe>('lesion.lobe');
  if (side === 'left' && lobe === 'middle') {
    problems.add(
      'lesion.lobe',
      '"middle" is a lobe of the right lung. On the left write upper, lingula or lower, or correct the side.',
    );
    return;
  }
  if (side === 'right' && lobe === 'lingula') {
    problems.add(
      'lesion.lobe',
      '"lingula" is a part of the left lung. On the right write upper, middle or lower, or correct the side.',
    );
    return;
  }
  const sides = side === undefined ? (['left', 'right'] as const) : [side];
  const lobes = lobe === undefined ? (['upper', 'middle', 'lingula', 'lower'] as const) : [lobe];
  const possible = new Set(sides.flatMap((s) => lobes.flatMap((l) => SEGMENTS[s][l] ?? [])));
  for (const path of reader.items('lesion.segments')) {
    const segment = reader.text(path);
    if (segment === undefined || possible.has(segment)) continue;
    const where = [side, lobe ? `${lobe}${lobe === 'lingula' ? '' : ' lobe'}` : 'lung']
      .filter(Boolean)
      .join(' ');
    findings.push(
      finding(
        'caution',
        'segment-outside-lobe',
        path,
        `${segment} is not a segment of the ${where}, which has ${[...possible].join(', ')}. Check side, lobe and segment.`,
      ),
    );
  }
}

/** Contradictions in the data of the patient, the blood and the dates. */
export function checkPatient(reader: FileReader, findings: Finding[]): void {
  const allergies = reader.items('patient.allergies');
  for (const path of allergies) {
    const word = reader.text(path);
    if (word === undefined || (KNOWN_ALLERGIES as readonly string[]).includes(word)) continue;
    const near = nearestKey(word, KNOWN_ALLERGIES);
    findings.push(
      finding(
        'caution',
        'allergy-without-rule',
        path,
        `No rule knows the allergy ${quoted(word)}${near ? ` (did you mean "${near}"?)` : ''}: it is shown in the plan, and the team must judge it. Known: ${KNOWN_ALLERGIES.join(', ')}.`,
      ),
    );
  }
  if (reader.yesNo('patient.pregnant') === 'yes' && reader.word('patient.sex') === 'male') {
    findings.push(
      finding(
        'caution',
        'pregnant-and-male',
        'patient.pregnant',
        'The case says pregnant and male. Check both.',
      ),
    );
  }
  if (reader.has('patient.gestation') && reader.yesNo('patient.pregnant') !== 'yes') {
    findings.push(
      finding(
        'caution',
        'gestation-not-pregnant',
        'patient.gestation',
        'Weeks of pregnancy are given, but pregnant is not yes. Check both; the plan uses only pregnant.',
      ),
    );
  }
  if (reader.has('patient.anticoagulant') && reader.has('patient.anticoagulated')) {
    const said = reader.yesNo('patient.anticoagulated');
    if (said !== undefined && said !== 'yes') {
      findings.push(
        finding(
          'caution',
          'anticoagulant-contradicts',
          'patient.anticoagulant',
          `An anticoagulant is named, but anticoagulated says ${said}. Check both; the plan uses only anticoagulated.`,
        ),
      );
    }
  }
  const scan = reader.text('scan.date');
  const planned = reader.text('planned.date');
  const treated = reader.text('lesion.treated');
  if (scan !== undefined && treated !== undefined && scan < treated) {
    findings.push(
      finding(
        'caution',
        'scan-before-treatment',
        'lesion.treated',
        `The scan of ${scan} is before the treatment of ${treated}: it cannot show what the treatment left. Check both, or leave lesion.treated out.`,
      ),
    );
  }
  if (scan !== undefined && planned !== undefined && planned < scan) {
    findings.push(
      finding(
        'caution',
        'planned-before-scan',
        'planned.date',
        `The planned date ${planned} is before the scan of ${scan}. Check both.`,
      ),
    );
  }
}

/** An expectation names a value and what it must equal, or a finding and whether it is present. */
export function checkExpected(reader: FileReader, problems: Problems): void {
  const seen = new Map<string, string>();
  for (const path of reader.items('expected')) {
    if (problems.under(path)) continue;
    const has = (key: string): boolean => reader.has(`${path}.${key}`);
    if (has('value') === has('finding')) {
      problems.add(path, 'needs exactly one of value and finding.');
    } else if (has('value') && !has('equals')) {
      problems.add(path, 'names a value but not what it equals. Add equals.');
    } else if (has('value') && has('present')) {
      problems.add(`${path}.present`, 'belongs to a finding, not to a value. Delete it.');
    } else if (has('finding') && (has('equals') || has('within'))) {
      problems.add(path, 'names a finding; equals and within belong to a value. Use present.');
    } else if (has('within') && typeof reader.number(`${path}.equals`) !== 'number') {
      problems.add(`${path}.within`, 'needs a number in equals.');
    } else {
      const at = `${path}.${has('value') ? 'value' : 'finding'}`;
      const asked = reader.text(at);
      if (asked === undefined) continue;
      const key = has('value') ? dottedPath(asked) : `finding ${asked}`;
      const first = seen.get(key);
      if (first === undefined) seen.set(key, at);
      else
        problems.add(
          at,
          `${quoted(asked)} is given at ${problems.place(first)} too, so it would count twice. Keep one of the two lines.`,
        );
    }
  }
}
