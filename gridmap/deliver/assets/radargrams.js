// What sections are drawn from: radargrams of walked lines, and cuts through the slices along any path.
import { data, live, packedLines } from "./data.js";
import { bytesOf } from "./inflate.js";
import { sliceCells, unpackBeside } from "./slices.js";

const packedGrams = packedLines("radargrams");
const heldGrams = new Map();

export function hasRadargrams() { return data.radargrams !== null; }

// One line: bytes over (trace, sample), 128 is nought, 0 is blank.
export async function radargram(index) {
  if (!heldGrams.has(index)) {
    if (heldGrams.size > 24) heldGrams.delete(heldGrams.keys().next().value);
    const { traces, samples } = data.radargrams.lines[index];
    heldGrams.set(index, unpackBeside(packedGrams[index], traces, samples));
  }
  const { traces, samples, first, step } = data.radargrams.lines[index];
  return { kind: "time", cells: await heldGrams.get(index), traces, samples, first, step, ns: data.radargrams.ns };
}

// Envelope of a radargram: root of the sum of squares with its quadrature, by Hilbert's filter of 31 taps in a Hamming window.
export function envelopeOf(gram) {
  const { cells, traces, samples } = gram, half = 15, taps = [];
  for (let k = 1; k <= half; k += 2) taps.push([k, 2 / (Math.PI * k) * (0.54 + 0.46 * Math.cos(Math.PI * k / half))]);
  const out = new Uint8Array(cells.length);
  for (let i = 0; i < traces; i += 1) {
    const at = i * samples;
    if (!cells[at]) continue;
    for (let j = 0; j < samples; j += 1) {
      let turned = 0;
      for (const [k, weight] of taps) {
        const before = j - k < 0 ? 128 : cells[at + j - k], after = j + k >= samples ? 128 : cells[at + j + k];
        turned += weight * (before - after);
      }
      out[at + j] = Math.max(1, Math.min(255, 128 + Math.hypot(cells[at + j] - 128, turned)));
    }
  }
  return out;
}

// Lengths along a path at its vertices.
function pathLengths(path) {
  const lengths = [0];
  for (let k = 1; k < path.length; k += 1) lengths.push(lengths[k - 1] + Math.hypot(path[k][0] - path[k - 1][0], path[k][1] - path[k - 1][1]));
  return lengths;
}

// A cut through the volume, which the server has; null where there is none, or it does not answer.
export async function cutVolume(path) {
  if (!live) return null;
  try {
    const answer = await fetch(`${live.api}section?path=${path.map((p) => p.join(",")).join(";")}`);
    if (answer.status !== 200) return null;
    const cut = await answer.json();
    return { ...cut, kind: "depth", cells: bytesOf(cut.cells), first: 0, path, along: pathLengths(path), name: "section through the volume" };
  } catch {
    return null;
  }
}

// A cut through the depth slices along a path on the map; traces lie one cell apart.
export function cutSlices(path, stackIndex) {
  const stack = data.stacks[stackIndex], { west, north, cell } = data.raster, lengths = pathLengths(path);
  const whole = lengths[lengths.length - 1], traces = Math.max(2, Math.round(whole / cell) + 1), samples = stack.windows.length;
  const cells = new Uint8Array(traces * samples), step = whole / (traces - 1);
  for (let i = 0, piece = 0; i < traces; i += 1) {
    const along = i * step;
    while (piece + 2 < path.length && lengths[piece + 1] < along) piece += 1;
    const t = (along - lengths[piece]) / (lengths[piece + 1] - lengths[piece] || 1), a = path[piece], b = path[piece + 1];
    const column = Math.floor((a[0] + t * (b[0] - a[0]) - west) / cell), row = Math.floor((north - a[1] - t * (b[1] - a[1])) / cell);
    if (column < 0 || row < 0 || column >= stack.columns || row >= stack.rows) continue;
    for (let j = 0; j < samples; j += 1) cells[i * samples + j] = sliceCells(stackIndex, j)[row * stack.columns + column];
  }
  const middle = (w) => (w.top + w.base) / 2, tops = stack.windows;
  return {
    kind: "depth", cells, traces, samples, first: 0, step,
    from: middle(tops[0]), to: middle(tops[samples - 1]), path, along: lengths, name: "section through the slices",
  };
}
