import { execFileSync } from 'node:child_process';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type { Vec3 } from '../../src/foundation/vector.js';
import type { LesionMeasure, VesselMeasure } from '../../src/geometry/measure.js';
import { measureParts } from '../../src/geometry/measure-parts.js';
import type { TriangleMesh } from '../../src/mesh/mesh.js';
import { type LesionPlan, type PartResolution, partMeshes } from '../../src/phantoms/lesion.js';
import type { PrintInput, PrintInputPart } from '../../src/print/print-job.js';
import { loadRules } from '../../src/rules/load-rules.js';

export const rules = loadRules();

/** A printable input of a synthetic lesion: its parts with their measures. */
export function inputOf(
  plan: LesionPlan,
  print: Partial<PrintInput['print']> = {},
  resolution?: PartResolution,
): PrintInput {
  const parts = partMeshes(plan, resolution);
  const surfaces = parts.map(({ name, role, of, mesh }) => ({
    name,
    role,
    of,
    mesh,
    capTriangles: [],
    spare: false,
  }));
  const { lesion } = measureParts(surfaces, rules.measure, { scan: {}, hasAxes: true });
  return {
    parts: parts.map(({ name, role, mesh }) => ({ name, role, mesh })),
    lesion,
    print: { scale: 1, hollow: false, process: 'vat-photopolymerisation', ...print },
    caseId: plan.name,
    side: 'left',
    frame: 'LPS',
    rules,
  };
}

/** A straight round vessel along x, measured by hand. */
export function straightVessel(name: string, from: Vec3, lengthMm: number, calibreMm: number): VesselMeasure {
  const centrelineMm = Array.from({ length: lengthMm + 1 }, (_, i): Vec3 => [from[0] + i, from[1], from[2]]);
  return {
    name,
    role: 'feeder',
    centrelineMm,
    lengthMm,
    lengthIntervalMm: [lengthMm, lengthMm],
    tortuosity: 1,
    calibreMm: { min: calibreMm, mean: calibreMm, max: calibreMm },
    profile: Array.from({ length: 2 * lengthMm - 1 }, (_, i) => ({
      atMm: 0.5 + i / 2,
      equivalentMm: calibreMm,
      minMm: calibreMm,
      maxMm: calibreMm,
      areaMm2: (Math.PI * calibreMm ** 2) / 4,
    })),
    branches: [],
    calibreSigmaMm: 0.1,
  };
}

/** Parts and measures as a printable input. */
export function bareInput(
  parts: PrintInputPart[],
  lesion: LesionMeasure,
  print: Partial<PrintInput['print']> = {},
): PrintInput {
  return { parts, lesion, print: { scale: 1, hollow: false, ...print }, caseId: 'bare', frame: 'LPS', rules };
}

export const moved = (mesh: TriangleMesh, by: Vec3): TriangleMesh => ({
  positions: mesh.positions.map((x, i) => x + by[i % 3]),
  triangles: mesh.triangles,
});

/** Several meshes as one. */
export function together(...meshes: TriangleMesh[]): TriangleMesh {
  const positions: number[] = [];
  const triangles: number[] = [];
  for (const mesh of meshes) {
    const base = positions.length / 3;
    for (const x of mesh.positions) positions.push(x);
    for (const v of mesh.triangles) triangles.push(v + base);
  }
  return { positions: Float64Array.from(positions), triangles: Uint32Array.from(triangles) };
}

const asked = new Map<string, boolean>();

/** Whether an outside program is on the path; if not, the terminal says so once for each test file. */
export function has(program: string): boolean {
  const known = asked.get(program);
  if (known !== undefined) return known;
  let found = true;
  try {
    execFileSync('which', [program], { stdio: 'ignore' });
  } catch {
    found = false;
    console.warn(`SKIPPED: ${program} is not on the PATH, so what it would check went unchecked.`);
  }
  asked.set(program, found);
  return found;
}

/** What admesh, a separate program, reports on a binary STL: its counts by their labels. */
export function admesh(bytes: Uint8Array): Record<string, number> {
  const dir = mkdtempSync(join(tmpdir(), 'admesh-'));
  try {
    const file = join(dir, 'part.stl');
    writeFileSync(file, bytes);
    const said = execFileSync('admesh', [file], { encoding: 'utf8' });
    const facts: Record<string, number> = {};
    for (const [, label, value] of said.matchAll(/([A-Z][A-Za-z0-9 ]+?)\s*:\s+(-?[\d.]+)/g))
      facts[label] ??= Number(value);
    return facts;
  } finally {
    rmSync(dir, { recursive: true, force: true });
  }
}
