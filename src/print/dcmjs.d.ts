/** The part of dcmjs 0.51.1 that is used here; the package has no types of its own. */
declare module 'dcmjs' {
  /** One data element: its value representation and values; a sequence holds data sets. */
  export interface DicomElement {
    vr: string;
    Value: readonly (string | number | ArrayBuffer | DicomDataSet)[];
  }
  /** Data elements by tag, eight hexadecimal digits. */
  export interface DicomDataSet {
    [tag: string]: DicomElement;
  }
  class DicomDict {
    constructor(meta: DicomDataSet);
    dict: DicomDataSet;
    write(): ArrayBuffer;
  }
  const dcmjs: { data: { DicomDict: typeof DicomDict } };
  export default dcmjs;
}
