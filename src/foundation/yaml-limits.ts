export interface YamlLimits {
  bytes: number;
  depth: number;
  /** Values in the whole document; aliases count each time they are used. */
  values: number;
}

/** Limits of a file written by hand: common practice, no source. */
export const YAML_LIMITS: YamlLimits = { bytes: 2 * 1024 * 1024, depth: 32, values: 50_000 };
