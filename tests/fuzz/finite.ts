/** The path of the first non-finite number, in lists, typed arrays, maps and objects at any depth. */
export function notFinite(value: unknown, path = 'result', seen = new Set<unknown>()): string | undefined {
  if (typeof value === 'number') return Number.isFinite(value) ? undefined : `${path} is ${value}`;
  if (typeof value !== 'object' || value === null || seen.has(value)) return undefined;
  seen.add(value);
  if (value instanceof Float64Array || value instanceof Float32Array) {
    const at = value.findIndex((x) => !Number.isFinite(x));
    return at < 0 ? undefined : `${path}[${at}] is ${value[at]}`;
  }
  if (ArrayBuffer.isView(value)) return undefined;
  const entries = value instanceof Map ? [...value] : Object.entries(value);
  for (const [key, item] of entries) {
    const found = notFinite(item, `${path}.${String(key)}`, seen);
    if (found) return found;
  }
  return undefined;
}
