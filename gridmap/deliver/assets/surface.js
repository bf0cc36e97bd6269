// Surface of equal strength through a volume: surface nets (Gibson 1998), one vertex in every cell that the surface cuts.

// `field` over (k, j, i), its rim below the level so that the surface closes. Positions count in cells.
export function surfaceNets(field, [depth, rows, columns], level) {
  const at = (k, j, i) => (k * rows + j) * columns + i;
  const vertexOf = new Int32Array(field.length).fill(-1), positions = [], indices = [];
  const corner = new Float32Array(8);
  for (let k = 0; k + 1 < depth; k += 1) {
    for (let j = 0; j + 1 < rows; j += 1) {
      for (let i = 0; i + 1 < columns; i += 1) {
        const base = at(k, j, i);
        let mask = 0;
        for (let c = 0; c < 8; c += 1) {
          corner[c] = field[base + (c & 1) + (c & 2 ? columns : 0) + (c & 4 ? rows * columns : 0)];
          if (corner[c] >= level) mask |= 1 << c;
        }
        if (mask === 0 || mask === 255) continue;
        let x = 0, y = 0, z = 0, count = 0;
        for (let c = 0; c < 8; c += 1) {
          for (let axis = 0; axis < 3; axis += 1) {
            const d = c | (1 << axis);
            if (d === c || ((mask >> c) & 1) === ((mask >> d) & 1)) continue;
            const t = (level - corner[c]) / (corner[d] - corner[c]);
            x += (c & 1) + (axis === 0 ? t : 0);
            y += ((c >> 1) & 1) + (axis === 1 ? t : 0);
            z += ((c >> 2) & 1) + (axis === 2 ? t : 0);
            count += 1;
          }
        }
        vertexOf[base] = positions.length / 3;
        positions.push(i + x / count, j + y / count, k + z / count);
      }
    }
  }
  const quad = (a, b, c, d, flip) => {
    if (a < 0 || b < 0 || c < 0 || d < 0) return;
    if (flip) indices.push(a, c, b, a, d, c); else indices.push(a, b, c, a, c, d);
  };
  const layer = rows * columns;
  for (let k = 1; k + 1 < depth; k += 1) {
    for (let j = 1; j + 1 < rows; j += 1) {
      for (let i = 1; i + 1 < columns; i += 1) {
        const p = at(k, j, i), inside = field[p] >= level;
        if (inside !== field[p + 1] >= level) quad(vertexOf[p], vertexOf[p - columns], vertexOf[p - columns - layer], vertexOf[p - layer], inside);
        if (inside !== field[p + columns] >= level) quad(vertexOf[p], vertexOf[p - layer], vertexOf[p - layer - 1], vertexOf[p - 1], inside);
        if (inside !== field[p + layer] >= level) quad(vertexOf[p], vertexOf[p - 1], vertexOf[p - 1 - columns], vertexOf[p - columns], inside);
      }
    }
  }
  return { positions: new Float32Array(positions), indices: new Uint32Array(indices) };
}

// Normals of the vertices: the mean of those of their triangles, by area.
export function normalsOf(positions, indices) {
  const normals = new Float32Array(positions.length);
  for (let t = 0; t < indices.length; t += 3) {
    const [a, b, c] = [3 * indices[t], 3 * indices[t + 1], 3 * indices[t + 2]];
    const ux = positions[b] - positions[a], uy = positions[b + 1] - positions[a + 1], uz = positions[b + 2] - positions[a + 2];
    const vx = positions[c] - positions[a], vy = positions[c + 1] - positions[a + 1], vz = positions[c + 2] - positions[a + 2];
    const n = [uy * vz - uz * vy, uz * vx - ux * vz, ux * vy - uy * vx];
    for (const v of [a, b, c]) for (let r = 0; r < 3; r += 1) normals[v + r] += n[r];
  }
  return normals;
}
