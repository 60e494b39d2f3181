import { InputFailure } from '../../foundation/failure.js';
import type { PrintPackage } from '../../print/assemble-package.js';
import type { PatientIdentifiers } from '../../print/encapsulate-stl.js';
import type { PrintDocument } from '../../report/print-gauges.js';
import { caseShelf } from '../input/case-shelf.js';
import { measuredMarker } from '../from-scan/measured-marker.js';
import type { MeasuredCase } from '../measure/measure-case.js';
import { packageVersion } from '../version.js';
import type { OutputFile } from '../output/output-list.js';

/**
 * The printable export of a measured case. Throws InputFailure (2) if the case names no surfaces and (3) if its shelf cannot be read,
 * `PrintGivenUp` if it would take too much work.
 */
export async function printPackageOf(measured: MeasuredCase): Promise<PrintPackage> {
  const patientCase = measured.case;
  if (!patientCase.surfaces)
    throw new InputFailure(
      2,
      `${patientCase.locate('surfaces')} surfaces: the case names no surfaces, so there is nothing to print.`,
    );
  const { preparePrint } = await import('../../print/prepare-print.js');
  const shelf = await caseShelf(patientCase);
  return preparePrint({
    parts: measured.structures.flatMap(({ role, ...one }) => (role === 'left-out' ? [] : { ...one, role })),
    lesion: measured.lesion,
    print: patientCase.print,
    caseId: patientCase.id,
    side: patientCase.lesion.side,
    frame: patientCase.surfaces.frame,
    rules: measured.rules,
    isResolutionKnown:
      patientCase.scan.sliceThicknessMm !== undefined && patientCase.scan.inPlaneMm !== undefined,
    ...(shelf && { shelf }),
    mark: measuredMarker(measured).mark,
  });
}

/**
 * Every file of the print folder: meshes, gauges.md and its figures; paths relative to the folder. `document` is a whole
 * result, or the part of one that the document needs.
 */
export async function printFolderFiles(
  pack: PrintPackage,
  document: PrintDocument,
  frame: 'LPS' | 'RAS' | 'unknown',
): Promise<OutputFile[]> {
  const [
    { printFiles, shownBodies },
    { renderPrintGauges },
    { renderGaugeCard },
    { gaugeSketches },
    { modelThumbnail },
    { proposalMarker },
  ] = await Promise.all([
    import('../../print/print-files.js'),
    import('../../report/print-gauges.js'),
    import('../../report/gauge-card.js'),
    import('../../report/figures/gauge-sketch.js'),
    import('../../report/figures/model-thumbnail.js'),
    import('../../report/proposal-mark.js'),
  ]);
  const model = pack.parts.find((p) => p.role === 'model');
  const marker = proposalMarker(document);
  const figures = model
    ? marker.figures(
        gaugeSketches(pack.result.gauges, model.mesh, frame, {
          letters: pack.letters,
          isClosed: model.check.isWatertight,
        }),
      )
    : [];
  const thumbnail = pack.parts.length > 0 ? modelThumbnail(shownBodies(pack), frame) : undefined;
  const card = renderGaugeCard(document);
  return [
    ...printFiles(pack, thumbnail),
    { path: 'gauges.md', bytes: marker.document(renderPrintGauges(document, figures)) },
    ...(card === undefined ? [] : [{ path: 'gauge-card.html', bytes: marker.page(card) }]),
    ...figures.map(({ name, svg }) => ({ path: `gauges/${name}`, bytes: svg })),
  ];
}

/**
 * `model.dcm`: the exact bytes of `model.stl` among `files` as a DICOM Encapsulated STL object. Undefined if there is no fused model. The
 * case's title is free text that may name a person, so it is not written. Throws InputFailure (2) if an identifier does not fit its
 * attribute, or the scan's frame of reference is requested for a model that was moved or scaled.
 */
export async function dicomModelFile(
  pack: PrintPackage,
  files: readonly OutputFile[],
  patientCase: MeasuredCase['case'],
  identifiers: PatientIdentifiers,
  frameOfReference?: string,
): Promise<OutputFile | undefined> {
  const stl = files.find((f) => f.path === 'model.stl')?.bytes;
  if (!(stl instanceof Uint8Array)) return undefined;
  const { scale = 1, origin_mm = [0, 0, 0] } = pack.result;
  if (frameOfReference !== undefined && (scale !== 1 || origin_mm.some((c) => c !== 0)))
    throw new InputFailure(
      2,
      "--frame-of-reference: the model was scaled or moved to an origin of its own, so its coordinates are not the scan's. Print at scale 1, or leave the flag out.",
    );
  const [{ encapsulateStl }, { scaleText }] = await Promise.all([
    import('../../print/encapsulate-stl.js'),
    import('../../print/tag.js'),
  ]);
  const bytes = await encapsulateStl({
    stl,
    caseId: patientCase.id,
    title: `${pack.mark === undefined ? '' : `STOP: ${pack.mark}. `}Print model of a pulmonary arteriovenous malformation. Not a medical device. Check the print with a caliper before anyone relies on it.`,
    scanDate: patientCase.scan.date,
    frame: patientCase.surfaces?.frame ?? 'unknown',
    description: `Print model, scale ${scaleText(pack.result.scale ?? 1)}`,
    softwareVersion: packageVersion(),
    identifiers,
    frameOfReference,
  });
  return { path: 'model.dcm', bytes };
}
