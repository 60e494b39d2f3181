/** Pictures of Hounsfield values: windowed, as PNG inside an SVG. */
import { type GreyPicture, OUTSIDE_SCAN } from '../../witness/grey-picture.js';
import { encodePng } from './png.js';
import { element } from './svg.js';

/**
 * The window for all pictures of the scan. Its level is half way between an opacified vessel and lung, so that the wall of a vessel in lung
 * is where the picture is mid-grey: for 350 to 450 HU next to -820 HU that is -235 to -185 HU.
 */
export const WINDOW = { levelHu: -200, widthHu: 1600 } as const;

export const WINDOW_TEXT = `level −${-WINDOW.levelHu} HU, width ${WINDOW.widthHu} HU`;

/** Grey for areas outside the scan; a caption next to the picture explains it. */
const NOTHING = 0;

/** Grey of a Hounsfield value, 0 to 255. */
export function greyOf(hu: number): number {
  if (hu === OUTSIDE_SCAN) return NOTHING;
  const share = (hu - WINDOW.levelHu) / WINDOW.widthHu + 0.5;
  return Math.max(0, Math.min(255, Math.round(255 * share)));
}

/** A picture of the scan at a position in the figure, px. */
export function greyImage(
  picture: GreyPicture,
  at: { x: number; y: number; width: number; height: number },
): string {
  const png = encodePng(Uint8Array.from(picture.values, greyOf), picture.columns, picture.rows, 1);
  return element('image', {
    ...at,
    preserveAspectRatio: 'none',
    href: `data:image/png;base64,${Buffer.from(png).toString('base64')}`,
  });
}

/** Share of a picture that is outside the scan. */
export const shareOutside = ({ values }: GreyPicture): number =>
  values.reduce((sum, value) => sum + (value === OUTSIDE_SCAN ? 1 : 0), 0) / values.length;
