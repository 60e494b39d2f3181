// AssemblyScript: a binary STL.

/** Bytes of a triangle, and of its normal, which is before its corners. */
export const STL_TRIANGLE: usize = 50;
export const STL_NORMAL: usize = 12;
