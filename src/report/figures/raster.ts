import { drawCompiled } from './compiled-raster.js';
import { drawPlainly } from './plain-raster.js';
import { type Drawn, type Projection, type RasterPart, SAMPLES, type Scene } from './raster-samples.js';

/** The part of a picture that is not white, one pixel at least. */
export interface Picture {
  /** Its first column and row, and its size. */
  left: number;
  top: number;
  width: number;
  height: number;
  /** 1 byte for each pixel if all parts are grey, otherwise 3; rows from the top. */
  channels: 1 | 3;
  pixels: Uint8Array;
}

/**
 * Draws meshes with hidden surfaces removed (depth buffer), shading by the angle to the viewer and dark outlines,
 * on white. Linear in triangles plus covered samples.
 */
export const rasterise = (
  parts: readonly RasterPart[],
  projection: Projection,
  width: number,
  height: number,
): Picture => pictureFrom(drawn({ parts, projection, width, height, keepsDepth: false }));

/** A picture with its depths. */
interface DeepPicture extends Picture {
  /**
   * The visible depth at a position in the whole picture (pixels), in terms of the projection's third row; infinite where nothing is
   * visible or outside the picture.
   */
  depthAt: (x: number, y: number) => number;
}

/** The same picture as `rasterise` draws. */
export function rasteriseDeep(
  parts: readonly RasterPart[],
  projection: Projection,
  width: number,
  height: number,
): DeepPicture {
  const whole = drawn({ parts, projection, width, height, keepsDepth: true });
  const { left, top, columns, rows, near, farthest } = whole;
  const depthAt = (x: number, y: number): number => {
    const [i, j] = [Math.floor(SAMPLES * x) - left, Math.floor(SAMPLES * y) - top];
    const is = i >= 0 && j >= 0 && i < columns && j < rows ? near[j * columns + i]! : 0;
    return is === 0 ? Number.POSITIVE_INFINITY : (farthest - is) / SAMPLES;
  };
  return { ...pictureFrom(whole), depthAt };
}

function drawn(order: Omit<Scene, 'channels'>): Drawn {
  const channels = order.parts.every(({ colour: [r, g, b] }) => r === g && g === b) ? 1 : 3;
  const scene: Scene = { ...order, channels };
  return drawCompiled(scene) ?? drawPlainly(scene);
}

const pictureFrom = ({ left, top, columns, rows, channels, pixels }: Drawn): Picture => ({
  left: left / SAMPLES,
  top: top / SAMPLES,
  width: columns / SAMPLES,
  height: rows / SAMPLES,
  channels,
  pixels,
});

/** The pixels of the whole picture, with its white margins. */
export function withMargins(picture: Picture, width: number, height: number): Uint8Array {
  const { left, top, channels, pixels } = picture;
  const line = channels * picture.width;
  const whole = new Uint8Array(channels * width * height).fill(255);
  for (let y = 0; y < picture.height; y++)
    whole.set(pixels.subarray(y * line, (y + 1) * line), channels * ((top + y) * width + left));
  return whole;
}
