// Meshes of the scene: tubes for pipes, prisms for areas, small bodies for points, the draped slice, the ground, the frame.
import { data } from "./data.js";
import { cross, minus, unit } from "./matrix.js";
import { normalsOf } from "./surface.js";
import { at, deepest, isLevel } from "./space.js";

const SIDES = 12;
export const TUBE_M = 0.06;
export const SKIRT_M = 0.15;

function mesh(positions, indices) {
  const flat = new Float32Array(positions.flat());
  const order = new Uint32Array(indices);
  return { positions: flat, indices: order, normals: normalsOf(flat, order) };
}

function lengths(path) {
  const sums = [0];
  for (let k = 1; k < path.length; k += 1) sums.push(sums[k - 1] + Math.hypot(path[k][0] - path[k - 1][0], path[k][1] - path[k - 1][1]));
  return sums;
}

// Places of a line's vertices; where its ends differ in depth it falls evenly between them.
export function spine(feature) {
  const { depth_top_m: top, depth_start_m: start = top, depth_end_m: end = top } = feature.columns, along = lengths(feature.path);
  const whole = along[along.length - 1] || 1;
  return feature.path.map(([e, n], k) => at(e, n, (start ?? 0) + along[k] / whole * ((end ?? 0) - (start ?? 0))));
}

export function tube(feature, radius = TUBE_M) {
  const axis = spine(feature), ring = [], order = [];
  axis.forEach((p, k) => {
    const along = unit(minus(axis[Math.min(axis.length - 1, k + 1)], axis[Math.max(0, k - 1)]));
    const side = unit(cross(along, Math.abs(along[2]) > 0.9 ? [1, 0, 0] : [0, 0, 1])), up = cross(side, along);
    for (let s = 0; s < SIDES; s += 1) {
      const c = radius * Math.cos(2 * Math.PI * s / SIDES), d = radius * Math.sin(2 * Math.PI * s / SIDES);
      ring.push([0, 1, 2].map((r) => p[r] + c * side[r] + d * up[r]));
    }
    if (k) {
      for (let s = 0; s < SIDES; s += 1) {
        const a = (k - 1) * SIDES + s, b = (k - 1) * SIDES + (s + 1) % SIDES;
        order.push(a, b, b + SIDES, a, b + SIDES, a + SIDES);
      }
    }
  });
  return mesh(ring, order);
}

// An area: its lid at the top, its walls down to the base, or a short skirt where no base was seen.
export function prism(feature) {
  const { depth_top_m: top = 0, thickness_m: thickness } = feature.columns, path = feature.path, count = path.length;
  const upper = path.map(([e, n]) => at(e, n, top)), lower = path.map(([e, n]) => at(e, n, top + (thickness ?? SKIRT_M)));
  const positions = [], order = [];
  for (const triangle of ears(path)) { const from = positions.length; positions.push(...triangle.map((k) => upper[k])); order.push(from, from + 1, from + 2); }
  if (thickness !== undefined) for (const triangle of ears(path)) { const from = positions.length; positions.push(...triangle.map((k) => lower[k])); order.push(from, from + 2, from + 1); }
  for (let k = 0; k < count; k += 1) {
    const next = (k + 1) % count, from = positions.length;
    positions.push(upper[k], upper[next], lower[next], lower[k]);
    order.push(from, from + 2, from + 1, from, from + 3, from + 2);
  }
  return mesh(positions, order);
}

// Triangles of a simple ring, by cutting ears (Meisters 1975).
function ears(path) {
  const area = path.reduce((sum, p, k) => { const q = path[(k + 1) % path.length]; return sum + (p[0] - path[0][0]) * (q[1] - path[0][1]) - (q[0] - path[0][0]) * (p[1] - path[0][1]); }, 0);
  const left = path.map((_, k) => k), out = [];
  if (area < 0) left.reverse();
  const turn = (a, b, c) => (path[b][0] - path[a][0]) * (path[c][1] - path[a][1]) - (path[b][1] - path[a][1]) * (path[c][0] - path[a][0]);
  let tries = 0;
  while (left.length > 3 && tries < left.length) {
    const [a, b, c] = [left[0], left[1], left[2]];
    const holds = left.some((p) => p !== a && p !== b && p !== c && turn(a, b, p) >= 0 && turn(b, c, p) >= 0 && turn(c, a, p) >= 0);
    if (turn(a, b, c) > 0 && !holds) { out.push([a, b, c]); left.splice(1, 1); tries = 0; } else { left.push(left.shift()); tries += 1; }
  }
  if (left.length >= 3) out.push([left[0], left[1], left[2]]);
  return out;
}

export function body(feature, radius = 0.1) {
  const [e, n] = feature.path[0], [x, y, z] = at(e, n, feature.columns.depth_top_m ?? 0);
  const tips = [[radius, 0, 0], [-radius, 0, 0], [0, radius, 0], [0, -radius, 0], [0, 0, radius], [0, 0, -radius]].map((d) => [x + d[0], y + d[1], z + d[2]]);
  const order = [0, 2, 4, 2, 1, 4, 1, 3, 4, 3, 0, 4, 2, 0, 5, 1, 2, 5, 3, 1, 5, 0, 3, 5];
  const split = order.map((k) => tips[k]);
  return mesh(split, split.map((_, k) => k));
}

// A sheet at a depth over the whole raster, with places on its picture; follows the ground unless the stack is level.
export function sheet(stack, depth) {
  const [west, south, east, north] = data.raster.bounds, level = isLevel(stack), many = data.ground && !level ? 48 : 1;
  const positions = [], order = [], places = [];
  for (let r = 0; r <= many; r += 1) {
    for (let c = 0; c <= many; c += 1) {
      const e = west + c / many * (east - west), n = north - r / many * (north - south);
      positions.push(at(e, n, depth, level));
      places.push(c / many, r / many);
      if (r && c) { const d = r * (many + 1) + c; order.push(d, d - 1, d - many - 2, d, d - many - 2, d - many - 1); }
    }
  }
  return { ...mesh(positions, order), places: new Float32Array(places) };
}

// Ground surface as lines along its posts; a level frame where its heights are not known.
export function groundLines() {
  const out = [];
  if (data.ground) {
    const { heights, west, south, step } = data.ground, place = (r, c) => at(west + c * step, south + r * step, 0);
    heights.forEach((row, r) => row.forEach((h, c) => {
      if (h === null) return;
      if (c + 1 < row.length && row[c + 1] !== null && r % 3 === 0) out.push(place(r, c), place(r, c + 1));
      if (r + 1 < heights.length && heights[r + 1][c] !== null && c % 3 === 0) out.push(place(r, c), place(r + 1, c));
    }));
  }
  return new Float32Array(out.flat());
}

// Edge of the grid at the surface and at the base, and its corners' posts.
export function frameLines() {
  const corners = data.outline.length > 2 ? data.outline : [[0, 1], [2, 1], [2, 3], [0, 3]].map(([a, b]) => [data.raster.bounds[a], data.raster.bounds[b]]);
  const out = [];
  corners.forEach(([e, n], k) => {
    const [f, m] = corners[(k + 1) % corners.length];
    for (const depth of [0, deepest]) out.push(at(e, n, depth), at(f, m, depth));
    out.push(at(e, n, 0), at(e, n, deepest));
  });
  return new Float32Array(out.flat());
}

export function walkedLines() {
  const out = [];
  for (const line of data.lines) for (let k = 1; k < line.path.length; k += 1) out.push(at(...line.path[k - 1], 0), at(...line.path[k], 0));
  return new Float32Array(out.flat());
}

