import type { Vec3 } from '../../foundation/vector.js';
import { writeStl } from '../../mesh/write-stl.js';
import type { Figure } from '../../report/figures/figures.js';
import { lesionPieces } from '../../report/figures/lesion-pieces.js';
import { renderedViews } from '../../report/figures/rendered-views.js';
import type { ProposalMarker } from '../../report/proposal-mark.js';
import { renderSurfaceReport } from '../../report/surface-report.js';
import type { Result } from '../../result/result.generated.js';
import { writeNrrd } from '../../volume/write-nrrd.js';
import type { MeasuredCase } from '../measure/measure-case.js';
import type { OutputFile } from '../output/output-list.js';

/** Depth of a mark inside its structure, mm: on the wall, or in a vessel of unknown calibre. */
const ON_WALL_MM = 1;
const WIDE_MM = 8;
/** Greatest number of unsure stretches numbered in the picture; more would hide it. */
const MOST_MARKED = 12;

/**
 * The folder `surfaces/` of a case whose surface was made from the scan; empty for others. `scanFigures`, the pictures of the scan, are
 * also written to `surfaces/`, unless `elsewhere` gives the folder, relative to it, that already holds them.
 */
export function surfaceFiles(
  measured: MeasuredCase,
  result: Result,
  marker: ProposalMarker,
  scanFigures: readonly Figure[],
  elsewhere?: string,
): OutputFile[] {
  const { proposed, case: patientCase } = measured;
  if (!proposed || !patientCase.surfaces) return [];
  const { proposal = proposed.result } = result;
  const frame = patientCase.surfaces.frame === 'RAS' ? 'RAS' : 'LPS';
  const [views] = marker.figures(
    renderedViews({
      parts: lesionPieces(result, measured.structures),
      frame,
      side: patientCase.lesion.side,
      marks: [
        ...proposal.ends.map(({ name, point_mm, calibre_mm }) => ({
          text: name,
          atMm: point_mm as Vec3,
          insideMm: calibre_mm ?? WIDE_MM,
        })),
        ...proposal.unsure.slice(0, MOST_MARKED).map(({ point_mm }, i) => ({
          text: String(i + 1),
          atMm: point_mm as Vec3,
          insideMm: ON_WALL_MM,
        })),
      ],
    }),
  );
  const drawn = views ? [views] : [];
  const links = [
    ...drawn.map(({ name, alt }) => ({ name, alt, folder: '' })),
    ...scanFigures.map(({ name, alt }) => ({ name, alt, folder: elsewhere ?? '' })),
  ];
  const written = elsewhere === undefined ? [...drawn, ...scanFigures] : drawn;
  const names = ['sac', ...proposal.ends.map(({ name }) => name)];
  const files: OutputFile[] = [
    { path: 'report.md', bytes: marker.document(renderSurfaceReport(result, links)) },
    { path: 'lesion.stl', bytes: proposed.stl },
    { path: 'labels.nrrd', bytes: writeNrrd(proposed.labels, frame, names) },
    ...(proposed.thrombus
      ? [{ path: 'thrombus.stl', bytes: writeStl(proposed.thrombus, 'without contrast agent') }]
      : []),
    ...written.map(({ name, svg }) => ({ path: name, bytes: svg })),
  ];
  return files.map(({ path, bytes }) => ({ path: `surfaces/${path}`, bytes }));
}
