// Two-way time to depth and back through flat layers, and one standard deviation of depth.
import { data } from "./data.js";

const { top, v, depths, sigmas } = data.velocity;
const topNs = [0];
for (let k = 1; k < top.length; k += 1) topNs.push(topNs[k - 1] + 2 * (top[k] - top[k - 1]) / v[k - 1]);

function layerOf(edges, value) {
  let k = 0;
  while (k + 1 < edges.length && value >= edges[k + 1]) k += 1;
  return k;
}

export function depthAt(ns) {
  const k = layerOf(topNs, ns);
  return top[k] + 0.5 * (ns - topNs[k]) * v[k];
}

export function timeAt(depth) {
  const k = layerOf(top, depth);
  return topNs[k] + 2 * (depth - top[k]) / v[k];
}

export function sigmaAt(depth) {
  const last = depths.length - 1;
  if (depth >= depths[last]) return sigmas[last] * (depths[last] ? depth / depths[last] : 1);
  const at = Math.max(0, depth) / depths[last] * last, k = Math.min(last - 1, Math.floor(at));
  return sigmas[k] + (at - k) * (sigmas[k + 1] - sigmas[k]);
}

export function depthWords(depth) { return `${depth.toFixed(2)} m \u00b1 ${sigmaAt(depth).toFixed(2)} m`; }
