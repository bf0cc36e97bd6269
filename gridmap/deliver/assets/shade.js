// Colours of bytes: a table, stretched between two bytes, as the pixels that a canvas takes.
import { data } from "./data.js";
import { bytesOf } from "./inflate.js";
import { shareOf } from "./slices.js";

export const tables = data.tables.map((table) => bytesOf(table.rgb));

function pixel(rgb, step) {
  return (255 << 24) | (rgb[3 * step + 2] << 16) | (rgb[3 * step + 1] << 8) | rgb[3 * step];
}

// Pixels (256,) of slices: byte 0 is clear, the shares between `low` and `high` take the whole table.
export function sliceShades(rgb, low, high) {
  const shades = new Uint32Array(256), from = shareOf(low), span = shareOf(high) - from;
  for (let b = 1; b < 256; b += 1) {
    const t = Math.min(1, Math.max(0, (shareOf(b) - from) / span));
    shades[b] = pixel(rgb, Math.round(255 * t)) >>> 0;
  }
  return shades;
}

// Pixels (256,) of amplitudes about 128; `gain` 1 shows the whole range of the bytes.
export function signedShades(rgb, gain) {
  const shades = new Uint32Array(256);
  for (let b = 1; b < 256; b += 1) {
    const t = Math.min(1, Math.max(-1, gain * (b - 128) / 127));
    shades[b] = pixel(rgb, Math.round(127.5 + 127.5 * t)) >>> 0;
  }
  return shades;
}

const pictures = new WeakMap();

export function paintCells(canvas, cells, rows, columns, shades) {
  let held = pictures.get(canvas);
  if (!held || held.width !== columns || held.height !== rows) {
    canvas.width = columns;
    canvas.height = rows;
    held = new ImageData(columns, rows);
    pictures.set(canvas, held);
  }
  const out = new Uint32Array(held.data.buffer);
  for (let k = 0; k < cells.length; k += 1) out[k] = shades[cells[k]];
  canvas.getContext("2d").putImageData(held, 0, 0);
}
