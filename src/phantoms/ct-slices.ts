import type { CtScene } from './ct-scene.js';
import { CT_IMAGE, dicomFile, type Element } from './dicom-bytes.js';

/** Facts of an invented series; none identifies a patient, a place or a machine. */
export interface SeriesWords {
  /** Root of the unique identifiers, under 2.25. */
  uid: string;
  /** `YYYYMMDD` */
  date: string;
}

const decimals = (...values: number[]): string => values.map((v) => String(Number(v.toFixed(4)))).join('\\');

/**
 * A volume as a DICOM CT series (PS3.3 A.3), one file per slice from the feet up, `ct/001.dcm` and so on; explicit little endian,
 * uncompressed. Same input, same bytes.
 */
export function ctSlices(
  { originMm, spacingMm, size: [columns, rows, slices], values }: CtScene,
  { uid, date }: SeriesWords,
): { path: string; bytes: Uint8Array }[] {
  const shared: Element[] = [
    [0x00080008, 'CS', 'DERIVED\\PRIMARY\\AXIAL'],
    [0x00080016, 'UI', CT_IMAGE],
    [0x00080020, 'DA', date],
    [0x00080060, 'CS', 'CT'],
    [0x00180010, 'LO', 'IODINE'],
    [0x00180050, 'DS', decimals(spacingMm[2])],
    [0x00185100, 'CS', 'HFS'],
    [0x0020000d, 'UI', `${uid}.1`],
    [0x0020000e, 'UI', `${uid}.2`],
    [0x00200011, 'IS', '1'],
    [0x00200037, 'DS', decimals(1, 0, 0, 0, 1, 0)],
    [0x00200052, 'UI', `${uid}.3`],
    [0x00280002, 'US', 1],
    [0x00280004, 'CS', 'MONOCHROME2'],
    [0x00280010, 'US', rows],
    [0x00280011, 'US', columns],
    [0x00280030, 'DS', decimals(spacingMm[1], spacingMm[0])],
    [0x00280100, 'US', 16],
    [0x00280101, 'US', 16],
    [0x00280102, 'US', 15],
    [0x00280103, 'US', 1],
    [0x00281052, 'DS', '0'],
    [0x00281053, 'DS', '1'],
    [0x00281054, 'LO', 'HU'],
  ];
  const place = columns * rows;
  return Array.from({ length: slices }, (_, k) => {
    const pixels = values.slice(k * place, (k + 1) * place);
    const bytes = dicomFile([
      ...shared,
      [0x00080018, 'UI', `${uid}.4.${k + 1}`],
      [0x00200013, 'IS', String(k + 1)],
      [0x00200032, 'DS', decimals(originMm[0], originMm[1], originMm[2] + k * spacingMm[2])],
      [0x7fe00010, 'OW', new Uint8Array(pixels.buffer)],
    ]);
    return { path: `ct/${String(k + 1).padStart(3, '0')}.dcm`, bytes };
  });
}
