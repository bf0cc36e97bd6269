// The slices: unpacked once, joined over a range, read in the unit of the data.
import { data, packedLines } from "./data.js";
import { bytesOf, unpackSlice } from "./inflate.js";
import { number } from "./dom.js";

const packedStacks = data.stacks.map((_, k) => packedLines(`slices-${k}`));
const unpackedStacks = data.stacks.map((stack) => new Array(stack.windows.length).fill(null));
const joinedCells = { key: "", cells: null };

export function sliceCells(stack, slice) {
  const held = unpackedStacks[stack];
  if (!held[slice]) {
    const { rows, columns } = data.stacks[stack];
    held[slice] = unpackSlice(packedStacks[stack][slice], rows, columns);
    packedStacks[stack][slice] = "";
  }
  return held[slice];
}

// The strongest of `together` slices from `slice` down; blank only where all are.
export function joinedSlices(stack, slice, together) {
  const last = Math.min(data.stacks[stack].windows.length, slice + together);
  if (last - slice <= 1) return sliceCells(stack, slice);
  const key = `${stack}/${slice}/${last}`;
  if (joinedCells.key === key) return joinedCells.cells;
  const cells = sliceCells(stack, slice).slice();
  for (let k = slice + 1; k < last; k += 1) {
    const more = sliceCells(stack, k);
    for (let i = 0; i < cells.length; i += 1) if (more[i] > cells[i]) cells[i] = more[i];
  }
  Object.assign(joinedCells, { key, cells });
  return cells;
}

// Share of the range from a byte: bytes hold square roots, so that weak echoes keep fine steps.
export function shareOf(byte) { return ((byte - 1) / 254) ** 2; }

export function valueWords(stack, byte) {
  const { low, high } = data.stacks[stack];
  if (!byte) return "no data";
  if (byte === 255) return `\u2265 ${number(high)}`;
  if (byte === 1) return `\u2264 ${number(low)}`;
  return number(low + shareOf(byte) * (high - low));
}

// Bytes below which 2 % and 99.5 % of the known cells lie.
export function usualEnds(cells) {
  const count = new Uint32Array(256);
  for (let i = 0; i < cells.length; i += 1) count[cells[i]] += 1;
  const known = cells.length - count[0];
  let low = 1, high = 255, sum = 0;
  for (let b = 1, set = false; b < 256; b += 1) {
    sum += count[b];
    if (!set && sum >= 0.02 * known) { low = b; set = true; }
    if (sum >= 0.995 * known) { high = b; break; }
  }
  return [low, Math.max(high, low + 1)];
}

// The window of a range, in words, as one slice's.
export function windowWords(stack, slice, together) {
  const windows = data.stacks[stack].windows, last = Math.min(windows.length - 1, slice + together - 1);
  const a = windows[slice], b = windows[last];
  if (a === b) return a.long;
  const many = `strongest of ${last - slice + 1} slices`;
  if (a.axis === "elevation") return `Elevation ${(a.datum - a.top).toFixed(2)} to ${(b.datum - b.base).toFixed(2)} m, ${many}`;
  const depth = `${a.top.toFixed(2)} to ${b.base.toFixed(2)} m`, time = `${a.ns[0].toFixed(1)} to ${b.ns[1].toFixed(1)} ns`;
  return a.axis === "depth" ? `Depth ${depth}  (two-way time ${time}), ${many}` : `Two-way time ${time}  (depth about ${depth}), ${many}`;
}

// The browser's own inflate works beside the page; where there is none, slices are unpacked when first shown.
export async function unpackAll(each) {
  if (typeof DecompressionStream === "undefined") return;
  for (let stack = 0; stack < packedStacks.length; stack += 1) {
    const { rows, columns } = data.stacks[stack];
    for (let slice = 0; slice < packedStacks[stack].length; slice += 1) {
      const packed = packedStacks[stack][slice];
      if (!unpackedStacks[stack][slice]) {
        const cells = await unpackBeside(packed, rows, columns);
        if (!unpackedStacks[stack][slice]) unpackedStacks[stack][slice] = cells;
        packedStacks[stack][slice] = "";
      }
      if (each) each(stack, slice);
    }
  }
}

export async function unpackBeside(packed, rows, columns) {
  if (typeof DecompressionStream === "undefined") return unpackSlice(packed, rows, columns);
  const stream = new Blob([bytesOf(packed)]).stream().pipeThrough(new DecompressionStream("deflate-raw"));
  const cells = new Uint8Array(await new Response(stream).arrayBuffer());
  for (let k = columns; k < cells.length; k += 1) cells[k] = (cells[k] + cells[k - columns]) & 255;
  return cells;
}
