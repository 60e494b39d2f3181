import { type Finding, finding } from '../foundation/finding.js';
import { largestOf } from '../foundation/largest-of.js';
import { fixed } from '../foundation/number-text.js';
import type { TriangleMesh } from './mesh.js';
import type { OrientResult } from './orient.js';
import { plural, point, pointOf, vertexPoint } from './place-text.js';
import { pinchedVertices, type Topology } from './topology.js';

type Say = (level: 'caution' | 'note', id: string, text: string) => void;

/** Findings on an oriented surface: openings and edges, changes of orientation, and separate bodies. */
export function surfaceFindings(oriented: OrientResult, topology: Topology, label: string): Finding[] {
  const findings: Finding[] = [];
  const say: Say = (level, id, text) => {
    findings.push(finding(level, id, label, text));
  };
  sayEdges(oriented.mesh, topology, say);
  sayOrientation(oriented, topology, say);
  sayBodies(oriented, topology, say);
  return findings;
}

function sayEdges(mesh: TriangleMesh, topology: Topology, say: Say): void {
  const openEnds = topology.loops.length;
  if (openEnds > 0) {
    const [x, y, z] = topology.loops[0].centroid;
    say(
      'caution',
      'open-surface',
      `The surface has ${openEnds} open ${plural(openEnds, 'end', 'ends')}, the first at ${point(x, y, z)} with a diameter of ${fixed(topology.loops[0].equivalentDiameterMm, 2)} mm. It encloses no volume until each is closed.`,
    );
  }
  const bad = topology.nonManifoldEdges.length / 2;
  if (bad > 0) {
    const p = 3 * topology.nonManifoldEdges[0];
    say(
      'caution',
      'non-manifold-edges',
      `${bad} ${plural(bad, 'edge is', 'edges are')} shared by more than two triangles, the first at ${vertexPoint(mesh, p)}. Inside and outside are not defined there; repair the segmentation's surface.`,
    );
  }
  const pinched = pinchedVertices(mesh, topology);
  if (pinched.length > 0) {
    say(
      'note',
      'pinched-vertices',
      `${pinched.length} ${plural(pinched.length, 'vertex joins', 'vertices join')} bodies in a single point, the first at ${vertexPoint(mesh, 3 * pinched[0])}.`,
    );
  }
  const flat = topology.degenerateTriangles;
  if (flat.length > 0) {
    say(
      'note',
      'degenerate-triangles',
      `${flat.length} ${plural(flat.length, 'triangle has', 'triangles have')} no area to speak of and ${plural(flat.length, 'was', 'were')} kept, the first at ${pointOf(mesh, flat[0])}.`,
    );
  }
}

function sayOrientation(oriented: OrientResult, topology: Topology, say: Say): void {
  const { mesh } = oriented;
  if (oriented.turnedComponents.length > 0) {
    say(
      'note',
      'reoriented',
      `The surface was inside out in ${oriented.turnedComponents.length} of ${topology.componentSizes.length} connected ${plural(topology.componentSizes.length, 'part', 'parts')} and was turned outwards.`,
    );
  }
  const single = oriented.disagreeingTriangles;
  if (single.length > 0) {
    say(
      'note',
      'reoriented',
      `${single.length} ${plural(single.length, 'triangle', 'triangles')} faced the other way than the neighbours and ${plural(single.length, 'was', 'were')} turned, the first at ${pointOf(mesh, single[0])}.`,
    );
  }
  if (oriented.oneSidedEdges.length > 0) {
    const count = oriented.oneSidedEdges.length / 2;
    say(
      'caution',
      'one-sided-surface',
      `Across ${count} ${plural(count, 'edge', 'edges')} no orientation agrees, the first at ${vertexPoint(mesh, 3 * oriented.oneSidedEdges[0])}: the surface has only one side there. Repair it.`,
    );
  }
}

function sayBodies(oriented: OrientResult, topology: Topology, say: Say): void {
  const { mesh } = oriented;
  const parts = topology.componentSizes.length - oriented.cavities.length;
  if (parts > 1) {
    const largest = topology.componentSizes.indexOf(largestOf(topology.componentSizes));
    const hollow = new Set(oriented.cavities);
    const other = topology.component.findIndex((c) => c !== largest && !hollow.has(c));
    say(
      'caution',
      'several-components',
      `The surface falls into ${parts} parts that are not connected; the largest has ${topology.componentSizes[largest]} of ${mesh.triangles.length / 3} triangles, another lies at ${pointOf(mesh, other)}. Remove fragments that do not belong to the structure.`,
    );
  }
  if (oriented.cavities.length > 0) {
    const c = oriented.cavities[0];
    const volume = oriented.cavities.reduce((sum, k) => sum - oriented.componentVolumesMm3[k], 0);
    say(
      'note',
      'inner-cavity',
      `${oriented.cavities.length} closed inner ${plural(oriented.cavities.length, 'wall was', 'walls were')} taken as hollow (${fixed(volume, 2)} mm3 less volume), the first at ${pointOf(mesh, topology.component.indexOf(c))}.`,
    );
  }
}
