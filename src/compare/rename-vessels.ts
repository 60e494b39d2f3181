import type { Result } from '../result/result.generated.js';

/** The result with its vessels renamed everywhere; names not in the map stay. */
export function renameVessels(result: Result, names: ReadonlyMap<string, string>): Result {
  if ([...names].every(([from, to]) => from === to)) return result;
  const to = (name: string): string => names.get(name) ?? name;
  // `A1`, or a text that begins with it: `A1 landing zone`
  const place = (where: string): string => {
    const name = [...names.keys()].find((one) => where === one || where.startsWith(`${one} `));
    return name === undefined ? where : to(name) + where.slice(name.length);
  };
  const keys = <T>(map: Record<string, T>): Record<string, T> =>
    Object.fromEntries(Object.entries(map).map(([name, value]) => [to(name), value]));
  return {
    ...result,
    vessels: Object.fromEntries(
      Object.entries(result.vessels).map(([name, vessel]) => [
        to(name),
        {
          ...vessel,
          ...(vessel.of !== undefined && { of: to(vessel.of) }),
          branches: vessel.branches.map((branch) => ({ ...branch, name: to(branch.name) })),
        },
      ]),
    ),
    closure: result.closure.map((row) => ({
      ...row,
      closed: row.closed === 'lobe' ? row.closed : row.closed.map(to),
      ...(row.remaining && { remaining: keys(row.remaining) }),
    })),
    ...(result.closure_order && { closure_order: result.closure_order.map(to) }),
    devices: keys(result.devices),
    ...(result.neighbours && {
      neighbours: result.neighbours.map((one) => ({ ...one, from: place(one.from), to: place(one.to) })),
    }),
    findings: result.findings.map((one) => ({ ...one, where: place(one.where) })),
    ...(result.resection && {
      resection: {
        ...result.resection,
        spare: result.resection.spare.map((one) => ({ ...one, name: to(one.name) })),
      },
    }),
  };
}
