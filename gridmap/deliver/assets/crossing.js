// Where features meet a section: distance along it, depth there and one standard deviation.
import { all, isShown } from "./features.js";

// Crossings of two paths: share along each piece of `path` (of its length) and distance along `line`.
export function crossings(path, closed, line) {
  const found = [], lengths = [0];
  const count = path.length + (closed ? 1 : 0);
  for (let k = 1; k < count; k += 1) {
    const a = path[k - 1], b = path[k % path.length];
    lengths.push(lengths[k - 1] + Math.hypot(b[0] - a[0], b[1] - a[1]));
  }
  const whole = lengths[lengths.length - 1] || 1;
  for (let k = 0; k + 1 < count; k += 1) {
    const [ax, ay] = path[k], [bx, by] = path[(k + 1) % path.length];
    for (let j = 0; j + 1 < line.path.length; j += 1) {
      const [cx, cy] = line.path[j], [dx, dy] = line.path[j + 1];
      const det = (bx - ax) * (dy - cy) - (by - ay) * (dx - cx);
      if (!det) continue;
      const t = ((cx - ax) * (dy - cy) - (cy - ay) * (dx - cx)) / det;
      const u = ((cx - ax) * (by - ay) - (cy - ay) * (bx - ax)) / det;
      if (t < 0 || t > 1 || u < 0 || u > 1) continue;
      found.push({
        share: (lengths[k] + t * (lengths[k + 1] - lengths[k])) / whole,
        along: line.along[j] + u * (line.along[j + 1] - line.along[j]),
      });
    }
  }
  return found.sort((a, b) => a.along - b.along);
}

function depthAtShare(columns, share) {
  const { depth_start_m: start, depth_end_m: end, depth_top_m: top } = columns;
  return start === undefined || end === undefined ? top : start + share * (end - start);
}

// Marks of all shown features on a section: a place, or for an area the span between two edges.
export function marksOn(line) {
  const marks = [];
  for (const feature of all.features) {
    if (!isShown(feature) || feature.columns.depth_top_m === undefined || feature.path.length < 2) continue;
    const met = crossings(feature.path, feature.closed, line), sigma = feature.columns.depth_sd_m || 0;
    if (feature.closed) {
      for (let k = 0; k + 1 < met.length; k += 2) marks.push({ feature, from: met[k].along, to: met[k + 1].along, depth: feature.columns.depth_top_m, sigma });
    } else {
      for (const at of met) marks.push({ feature, from: at.along, to: at.along, depth: depthAtShare(feature.columns, at.share), sigma });
    }
  }
  return marks;
}

// The walked line that crosses a feature nearest to its middle, and where; null where none does.
export function lineAcross(feature, lines) {
  let best = null, least = Infinity;
  lines.forEach((line, index) => {
    for (const at of crossings(feature.path, feature.closed, line)) {
      const off = feature.closed ? 0.5 * Math.abs(at.share - 0.25) : Math.abs(at.share - 0.5);
      if (off < least) { least = off; best = { index, along: at.along }; }
    }
  });
  return best;
}

export function placeAt(line, along) {
  const last = line.along.length - 1;
  let k = 0;
  while (k + 1 < last && line.along[k + 1] < along) k += 1;
  const span = line.along[k + 1] - line.along[k] || 1, t = Math.min(1, Math.max(0, (along - line.along[k]) / span));
  const [ax, ay] = line.path[k], [bx, by] = line.path[k + 1];
  return [ax + t * (bx - ax), ay + t * (by - ay)];
}
