// The ground in three dimensions: metres east, north and up from the middle of the map.
import { data } from "./data.js";
import { state } from "./state.js";
import { shareOf, sliceCells } from "./slices.js";

const [west, south, east, north] = data.raster.bounds;
export const middle = [(west + east) / 2, (south + north) / 2];
export const half = Math.hypot(east - west, north - south) / 2;
const ground = data.ground;
const heights = ground ? ground.heights.flat().filter((h) => h !== null) : [];
export const datum = heights.length ? Math.max(...heights) : 0;
export const relief = heights.length ? datum - Math.min(...heights) : 0;
export const stackOfDepths = Math.max(0, data.stacks.findIndex((stack) => stack.windows[0].axis !== "time"));
const windows = data.stacks[stackOfDepths].windows;
export const deepest = Math.max(...windows.map((w) => w.base));
export const stretch = { up: 1 };

// Height of the ground above its highest place, metres: the post nearest to a place; 0 where the ground is level.
export function groundUp(e, n) {
  if (!ground) return 0;
  const rows = ground.heights.length, columns = ground.heights[0].length;
  const row = Math.min(rows - 1, Math.max(0, Math.round((n - ground.south) / ground.step)));
  const column = Math.min(columns - 1, Math.max(0, Math.round((e - ground.west) / ground.step)));
  const height = ground.heights[row][column];
  return (height === null ? Math.min(...heights) : height) - datum;
}

// Place of a depth below the ground, or of a level stack below its datum.
export function at(e, n, depth, level = false) {
  const up = level ? (windows[0].datum || 0) - datum - depth : groundUp(e, n) - depth;
  return [e - middle[0], n - middle[1], stretch.up * up];
}

export function depthOfSlice(stack, slice) {
  const w = data.stacks[stack].windows[slice];
  return (w.top + w.base) / 2;
}

export function isLevel(stack) { return data.stacks[stack].windows[0].axis === "elevation"; }

// Strength over the usual level (median) of each depth, with a rim of noughts; every `every`th cell, the strongest of them.
export function strengthField(shallow) {
  const stack = data.stacks[stackOfDepths], count = windows.length, every = Math.max(1, Math.ceil(Math.sqrt(stack.rows * stack.columns * count / 2.2e6)));
  const rows = Math.ceil(stack.rows / every), columns = Math.ceil(stack.columns / every);
  const first = Math.max(0, windows.findIndex((w) => (w.top + w.base) / 2 >= shallow));
  const depth = count - first, dims = [depth + 2, rows + 2, columns + 2], field = new Float32Array(dims[0] * dims[1] * dims[2]);
  for (let k = 0; k < depth; k += 1) {
    const cells = sliceCells(stackOfDepths, first + k), usual = medianShare(cells, stack), table = new Float32Array(256);
    for (let b = 1; b < 256; b += 1) table[b] = (stack.low + shareOf(b) * (stack.high - stack.low)) / usual;
    for (let r = 0; r < stack.rows; r += 1) {
      const to = ((k + 1) * dims[1] + Math.floor(r / every) + 1) * dims[2] + 1;
      for (let c = 0; c < stack.columns; c += 1) {
        const value = table[cells[r * stack.columns + c]], place = to + Math.floor(c / every);
        if (value > field[place]) field[place] = value;
      }
    }
  }
  return { field, dims, first, every };
}

function medianShare(cells, stack) {
  const count = new Uint32Array(256);
  let known = 0;
  for (let k = 0; k < cells.length; k += 1) if (cells[k]) { count[cells[k]] += 1; known += 1; }
  let b = 1, sum = count[1];
  while (b < 255 && sum < known / 2) { b += 1; sum += count[b]; }
  return Math.max(1e-12, stack.low + shareOf(b) * (stack.high - stack.low));
}

// Cells of the field to places in the ground.
export function fieldPlace({ first, every }, i, j, k) {
  const { west: w, north: n, cell } = data.raster;
  const e = w + ((i - 1 + 0.5) * every) * cell, nn = n - ((j - 1 + 0.5) * every) * cell;
  const step = windows.length > 1 ? depthOfSlice(stackOfDepths, 1) - depthOfSlice(stackOfDepths, 0) : 0.1;
  return at(e, nn, depthOfSlice(stackOfDepths, 0) + (first + k - 1) * step, isLevel(stackOfDepths));
}

export function chosenDepth() { return depthOfSlice(state.stack, state.slice); }
