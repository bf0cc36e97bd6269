// Features as they stand: their words, where they lie, which one is chosen.
import { data } from "./data.js";
import { state, tell, change } from "./state.js";

export const KIND = { linear: "line", outlines: "area", points: "point", rejected: "candidate", check: "check", above_ground: "above ground" };
export const EDITABLE = ["linear", "outlines", "points"];
export const all = { features: [] };

let counter = 0;
export function withKey(row) { counter += 1; return { ...row, key: counter }; }

all.features = data.features.map(withKey);

export function statusOf(feature) {
  if (feature.layer === "rejected") return feature.columns.status === "accepted" ? "accepted" : "rejected";
  return feature.columns.status || "found";
}

export function nameOf(feature) {
  const c = feature.columns;
  return String(c.id || c.line || c.name || c.kind || KIND[feature.layer] || feature.layer);
}

export function depthOf(feature) {
  const c = feature.columns, plus = c.depth_sd_m === undefined ? "" : ` \u00b1 ${c.depth_sd_m.toFixed(2)}`;
  if (c.depth_top_m === undefined) return feature.layer in { linear: 1, outlines: 1, points: 1 } ? "depth not measured yet" : "";
  const falls = c.depth_start_m !== undefined && Math.abs(c.depth_end_m - c.depth_start_m) > Math.max(0.05, 2 * (c.depth_sd_m || 0));
  const depth = falls ? `${c.depth_start_m.toFixed(2)} to ${c.depth_end_m.toFixed(2)}` : c.depth_top_m.toFixed(2);
  return `${depth}${plus} m`;
}

export function isShown(feature) {
  if (feature === state.selected) return true;
  if (feature.layer === "check" || feature.layer === "above_ground") return state.shown.findings;
  return statusOf(feature) === "rejected" ? state.shown.rejected : state.shown.features;
}

export function select(feature) {
  if (state.selected !== feature) change({ selected: feature }, "selected");
}

// Distance of a place from a path, metres, and the piece of it that is nearest.
export function awayFrom(path, closed, easting, northing) {
  let best = { away: Infinity, piece: 0, share: 0 };
  if (path.length === 1) return { away: Math.hypot(easting - path[0][0], northing - path[0][1]), piece: 0, share: 0 };
  for (let k = 0; k + 1 < path.length + (closed ? 1 : 0); k += 1) {
    const [ax, ay] = path[k], [bx, by] = path[(k + 1) % path.length], dx = bx - ax, dy = by - ay;
    const share = Math.min(1, Math.max(0, ((easting - ax) * dx + (northing - ay) * dy) / (dx * dx + dy * dy || 1)));
    const away = Math.hypot(easting - ax - share * dx, northing - ay - share * dy);
    if (away < best.away) best = { away, piece: k, share };
  }
  return best;
}

export function nearestFeature(easting, northing, reach) {
  let best = null, least = reach;
  for (const feature of all.features) {
    if (!isShown(feature)) continue;
    const { away } = awayFrom(feature.path, feature.closed, easting, northing);
    if (away < least) { least = away; best = feature; }
  }
  return best;
}

export function nearestLine(easting, northing) {
  let best = null;
  data.lines.forEach((line, index) => {
    const near = awayFrom(line.path, false, easting, northing);
    if (!best || near.away < best.away) {
      const from = line.along[near.piece], to = line.along[near.piece + 1];
      best = { index, name: line.name, away: near.away, along: from + near.share * (to - from) };
    }
  });
  return best;
}

export function lengthOf(path, closed = false) {
  let sum = 0;
  for (let k = 0; k + 1 < path.length + (closed ? 1 : 0); k += 1) {
    const b = path[(k + 1) % path.length];
    sum += Math.hypot(b[0] - path[k][0], b[1] - path[k][1]);
  }
  return sum;
}

export function areaOf(path) {
  let twice = 0;
  const [x0, y0] = path[0] || [0, 0]; // near the path, so that large co-ordinates lose no digits
  for (let k = 0; k < path.length; k += 1) {
    const [ax, ay] = path[k], [bx, by] = path[(k + 1) % path.length];
    twice += (ax - x0) * (by - y0) - (bx - x0) * (ay - y0);
  }
  return Math.abs(twice) / 2;
}

// Rows as a server has them now; what was chosen stays chosen.
export function setFeatures(rows) {
  const same = (a, b) => a.layer === b.layer && a.fid !== undefined && a.fid === b.fid;
  const chosen = state.selected;
  all.features = rows.map((row) => {
    const old = all.features.find((f) => same(f, row));
    return old ? Object.assign(old, row) : withKey(row);
  });
  if (chosen && !all.features.includes(chosen)) change({ selected: null }, "selected");
  tell("features");
  change({});
}
