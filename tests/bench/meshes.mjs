// Meshes of any size for the timing table: a helical tube in closed form and a lesion refined by subdivision.

/**
 * Closed helical tube of round section, about `count` triangles, mm. Radius 4 around a helix of radius 30 and pitch 30, three
 * turns, a fan at either end.
 */
export function helicalTube(count) {
  const [tube, helix, pitch, turns] = [4, 30, 30, 3];
  const rise = pitch / (2 * Math.PI);
  const lengthMm = turns * 2 * Math.PI * Math.hypot(helix, rise);
  const ratio = lengthMm / (2 * Math.PI * tube);
  const around = Math.max(8, Math.round(Math.sqrt(count / (2 * ratio))));
  const along = Math.max(8, Math.round(count / (2 * around)));
  const positions = new Float64Array(3 * (around * (along + 1) + 2));
  const triangles = new Uint32Array(3 * (2 * around * along + 2 * around));
  const frameAt = (i) => {
    const angle = (turns * 2 * Math.PI * i) / along;
    const [c, s] = [Math.cos(angle), Math.sin(angle)];
    const norm = Math.hypot(helix, rise);
    const centre = [helix * c, helix * s, rise * angle];
    const tangent = [(-helix * s) / norm, (helix * c) / norm, rise / norm];
    const inward = [-c, -s, 0];
    const binormal = [(rise * s) / norm, (-rise * c) / norm, helix / norm];
    return { centre, tangent, inward, binormal };
  };
  let p = 0;
  for (let i = 0; i <= along; i++) {
    const { centre, inward, binormal } = frameAt(i);
    for (let j = 0; j < around; j++) {
      const [c, s] = [Math.cos((2 * Math.PI * j) / around), Math.sin((2 * Math.PI * j) / around)];
      for (let k = 0; k < 3; k++) positions[p++] = centre[k] + tube * (c * inward[k] + s * binormal[k]);
    }
  }
  for (const end of [0, along]) for (const x of frameAt(end).centre) positions[p++] = x;
  let t = 0;
  const face = (a, b, c) => {
    triangles[t++] = a;
    triangles[t++] = b;
    triangles[t++] = c;
  };
  for (let i = 0; i < along; i++) {
    for (let j = 0; j < around; j++) {
      const a = i * around + j;
      const b = i * around + ((j + 1) % around);
      face(a, b, b + around);
      face(a, b + around, a + around);
    }
  }
  const [first, last] = [around * (along + 1), around * (along + 1) + 1];
  for (let j = 0; j < around; j++) {
    const next = (j + 1) % around;
    face(first, next, j);
    face(last, along * around + j, along * around + next);
  }
  const sections = Array.from({ length: 200 }, (_, i) => {
    const { centre, tangent } = frameAt(((i + 1) * along) / 202);
    return { point: centre, normal: tangent };
  });
  const exactVolumeMm3 = Math.PI * tube * tube * lengthMm;
  return { mesh: { positions, triangles }, sections, radiusMm: tube, exactVolumeMm3 };
}

/**
 * One round of smooth subdivision of a closed mesh, each triangle into four: each edge gets a new vertex, 3/8 of its ends and
 * 1/8 of the two opposite corners (C. Loop, 1987, from memory), or on a sharp edge their midpoint; old vertices stay, so flat
 * ends stay flat and round.
 */
export function subdivided({ positions, triangles }, twin) {
  const number = new Int32Array(triangles.length).fill(-1);
  const vertexCount = positions.length / 3;
  const next = (h) => (h % 3 === 2 ? h - 2 : h + 1);
  const out = new Float64Array(positions.length + 3 * (triangles.length / 2));
  out.set(positions);
  let made = vertexCount;
  for (let h = 0; h < triangles.length; h++) {
    if (number[h] >= 0) continue;
    const g = twin[h];
    const [a, b] = [triangles[h], triangles[next(h)]];
    const [c, d] = [triangles[next(next(h))], triangles[next(next(g))]];
    const [ends, corners] = isSharp(positions, [a, b, c, d]) ? [0.5, 0] : [0.375, 0.125];
    for (let k = 0; k < 3; k++) {
      out[3 * made + k] =
        ends * (positions[3 * a + k] + positions[3 * b + k]) +
        corners * (positions[3 * c + k] + positions[3 * d + k]);
    }
    number[h] = made;
    number[g] = made++;
  }
  const faces = new Uint32Array(4 * triangles.length);
  for (let t = 0; t < triangles.length; t += 3) {
    const [a, b, c] = [triangles[t], triangles[t + 1], triangles[t + 2]];
    const [ab, bc, ca] = [number[t], number[t + 1], number[t + 2]];
    faces.set([a, ab, ca, ab, b, bc, ca, bc, c, ab, bc, ca], 4 * t);
  }
  return { positions: out, triangles: faces };
}

/** Whether the surface turns by more than 60 degrees across the edge a-b; c and d are the opposite corners. */
function isSharp(positions, [a, b, c, d]) {
  const at = (v) => [positions[3 * v], positions[3 * v + 1], positions[3 * v + 2]];
  const normal = (p, q, r) => {
    const [u, v] = [q.map((x, k) => x - p[k]), r.map((x, k) => x - p[k])];
    return [u[1] * v[2] - u[2] * v[1], u[2] * v[0] - u[0] * v[2], u[0] * v[1] - u[1] * v[0]];
  };
  const left = normal(at(a), at(b), at(c));
  const right = normal(at(b), at(a), at(d));
  const dot = left[0] * right[0] + left[1] * right[1] + left[2] * right[2];
  return dot < 0.5 * Math.hypot(...left) * Math.hypot(...right);
}
