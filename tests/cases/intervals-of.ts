/** A value of a result with its 95 % interval, and its path. */
export interface WithInterval {
  path: string;
  value: unknown;
  interval: unknown;
}

/**
 * Every interval of a result next to its value: `X_interval` or `X_interval_UNIT` next to `X` or `X_UNIT`, `share_range` next
 * to `share`, `interval` next to `change` or `fraction`, and each entry of `intervals` next to the key of the same name.
 */
export function intervalsOf(value: unknown, path = 'result'): WithInterval[] {
  if (Array.isArray(value)) return value.flatMap((entry, i) => intervalsOf(entry, `${path}[${i}]`));
  if (value === null || typeof value !== 'object') return [];
  const object = value as Record<string, unknown>;
  const here = Object.entries(object).flatMap(([key, entry]): WithInterval[] => {
    if (key === 'intervals')
      return Object.entries(entry as object).map(([name, interval]) => ({
        path: `${path}.${name}`,
        value: object[name],
        interval,
      }));
    if (!/(^|_)(interval|range)(_|$)/.test(key)) return [];
    const bare = 'change' in object ? 'change' : 'fraction';
    const base = key === 'interval' ? bare : key.replace(/_(interval|range)(?=_|$)/, '');
    return [{ path: `${path}.${base}`, value: object[base], interval: entry }];
  });
  return [...here, ...Object.entries(object).flatMap(([key, entry]) => intervalsOf(entry, `${path}.${key}`))];
}
