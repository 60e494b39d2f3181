/** Transfer syntaxes of DICOM PS3.5 section 10 and annex A that CT series use. */
const NATIVE = new Set([
  '1.2.840.10008.1.2',
  '1.2.840.10008.1.2.1',
  '1.2.840.10008.1.2.2',
  '1.2.840.10008.1.2.1.99',
]);
const ENCAPSULATED: Readonly<Record<string, string>> = {
  '1.2.840.10008.1.2.5': 'RLE',
  '1.2.840.10008.1.2.4.57': 'JPEG lossless',
  '1.2.840.10008.1.2.4.70': 'JPEG lossless',
  '1.2.840.10008.1.2.4.80': 'JPEG-LS lossless',
  '1.2.840.10008.1.2.4.81': 'JPEG-LS',
  '1.2.840.10008.1.2.4.90': 'JPEG 2000 lossless',
  '1.2.840.10008.1.2.4.91': 'JPEG 2000',
};
/** Known but not read: lossy, or without a trusted decoder. */
const NOT_READ: Readonly<Record<string, string>> = {
  '1.2.840.10008.1.2.4.50': 'its pixels are JPEG, which loses what is measured',
  '1.2.840.10008.1.2.4.51': 'its pixels are JPEG, which loses what is measured',
  '1.2.840.10008.1.2.4.201': 'its pixels are high-throughput JPEG 2000, which is not read',
  '1.2.840.10008.1.2.4.202': 'its pixels are high-throughput JPEG 2000, which is not read',
  '1.2.840.10008.1.2.4.203': 'its pixels are high-throughput JPEG 2000, which is not read',
};

export const isRead = (syntax: string): boolean => NATIVE.has(syntax) || Object.hasOwn(ENCAPSULATED, syntax);

/** Whether each frame is a separate compressed stream. */
export const isEncapsulated = (syntax: string): boolean => Object.hasOwn(ENCAPSULATED, syntax);

export const isBigEndian = (syntax: string): boolean => syntax === '1.2.840.10008.1.2.2';

/** Whether the syntax allows lossy compression. */
export const mayBeLossy = (syntax: string): boolean =>
  syntax === '1.2.840.10008.1.2.4.81' || syntax === '1.2.840.10008.1.2.4.91';

/** Why a syntax is not read, as the end of a sentence. */
export const notReadBecause = (syntax: string): string =>
  Object.hasOwn(NOT_READ, syntax) ? NOT_READ[syntax] : 'its pixels are compressed in a way that is not read';

/** Name of a syntax as known to users. */
export const syntaxName = (syntax: string): string =>
  Object.hasOwn(ENCAPSULATED, syntax)
    ? ENCAPSULATED[syntax]
    : NATIVE.has(syntax)
      ? 'uncompressed'
      : 'not read';
