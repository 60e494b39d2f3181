import { type Finding, finding } from '../foundation/finding.js';
import type { FileReader } from './file-reader.js';

/** Fields that are read and checked but not used by any computation or document. Remove a field from here when it is used. */
const FIELDS = ['patient.heart_rate', 'planned.session'] as const;

/** One note that names the fields that were given and are not used, so that nothing is ignored silently. */
export function fieldsNotUsed(reader: FileReader, findings: Finding[]): void {
  const written = FIELDS.filter((path) => {
    const [list, key] = path.split('[].');
    return key === undefined
      ? reader.has(path)
      : reader.items(list).some((item) => reader.has(`${item}.${key}`));
  });
  if (written.length === 0) return;
  findings.push(
    finding(
      'note',
      'not-used-yet',
      'case',
      `Read and checked, but no number, document or advice uses it yet: ${written.join(', ')}. Judge it yourself.`,
    ),
  );
}
