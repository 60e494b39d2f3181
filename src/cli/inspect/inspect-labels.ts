import { InputFailure } from '../../foundation/failure.js';
import { type Finding, finding } from '../../foundation/finding.js';
import { fixed, rounded } from '../../foundation/number-text.js';
import { quoted } from '../../foundation/quoted-text.js';
import { plainName } from '../../mesh/read/mesh-file.js';
import { looksIdentifying } from '../../mesh/recognise/identity.js';
import type { Identity } from '../../mesh/recognise/identity-fields.js';

/** The report of `pavm inspect` on the labels of a map. */
export interface LabelsReport {
  json: Record<string, unknown>;
  lines: string[];
  identity: Identity;
  /** A stop if the voxels cannot be read. */
  findings: Finding[];
}

/** The labels of a map with their voxels and volumes, or why there are none: the voxels are an image, or cannot be read (a stop). */
export async function labelsReport(
  path: string,
  shown: string,
  isSegmentation = false,
): Promise<LabelsReport> {
  const { readLabelMap } = await import('../../volume/read-label-map.js');
  const { determinant } = await import('../../volume/label-map.js');
  try {
    const map = await readLabelMap(path, { shown, unitMm: 1, wanted: () => [] });
    if (map.imageBecause) return withoutLabels(`${map.imageBecause}. Give the label map to list its labels.`);
    const named = [...map.names];
    const withheld = named.some(([name]) => looksIdentifying(name));
    const nameOf = new Map(
      named.map(([name, label]) => [label, looksIdentifying(name) ? 'name withheld' : name]),
    );
    const voxelMl = Math.abs(determinant(map.grid)) / 1000;
    const labels = map.present.map(({ label, voxels }) => ({
      label,
      ...(nameOf.has(label) && { name: plainName(nameOf.get(label)!) }),
      voxels,
      volume_ml: rounded(voxels * voxelMl, 4),
    }));
    const lines = labels.map(
      ({ label, name, voxels, volume_ml }) =>
        `label                ${label}${name === undefined ? '' : ` ${quoted(name)}`}: ${voxels} voxels, ${fixed(volume_ml, 2)} mL`,
    );
    return {
      json: { labels, ...(isSegmentation && map.grid.notes.length > 0 && { notes: map.grid.notes }) },
      lines: [
        ...(lines.length > 0 ? lines : ['label                none']),
        ...(isSegmentation ? map.grid.notes.map((note) => `note                 ${note}`) : []),
      ],
      identity: { by: withheld ? ['segment name'] : [], freeText: [] },
      findings: [],
    };
  } catch (error) {
    if (!(error instanceof InputFailure)) throw error;
    const why = error.problems[0].replace(`${shown}: `, '');
    return withoutLabels(why, [finding('stop', 'labels-unusable', shown, why)]);
  }
}

const withoutLabels = (because: string, findings: Finding[] = []): LabelsReport => ({
  json: { no_labels_because: because },
  lines: [`labels               not read: ${because}`],
  identity: { by: [], freeText: [] },
  findings,
});
