// What lies under the pointer or the crosshair: place, depth with one standard deviation, value, nearest line.
import { data, toLocal } from "./data.js";
import { el, apart, shortened } from "./dom.js";
import { state, on } from "./state.js";
import { shownCells } from "./plan.js";
import { valueWords } from "./slices.js";
import { sigmaAt } from "./velocity.js";
import { nearestLine } from "./features.js";

export function byteAt(easting, northing) {
  const { west, north, cell } = data.raster, { rows, columns } = data.stacks[state.stack];
  const column = Math.floor((easting - west) / cell), row = Math.floor((north - northing) / cell);
  return column < 0 || row < 0 || column >= columns || row >= rows ? -1 : shownCells()[row * columns + column];
}

function depthShown() {
  const windows = data.stacks[state.stack].windows;
  const a = windows[state.slice], b = windows[Math.min(windows.length - 1, state.slice + state.together - 1)];
  if (a.axis === "elevation") return `elevation ${(a.datum - (a.top + b.base) / 2).toFixed(2)} m`;
  const middle = (a.top + b.base) / 2;
  return `${a.top.toFixed(2)} to ${b.base.toFixed(2)} m \u00b1 ${sigmaAt(middle).toFixed(2)}`;
}

function read() {
  el("at-depth").textContent = depthShown();
  const blank = "\u2013", ids = ["east", "north", "local", "value", "nearest"];
  if (!state.pointer) { for (const id of ids) el(id).textContent = blank; return; }
  const [easting, northing] = state.pointer, [x, y] = toLocal(easting, northing);
  el("east").textContent = `${easting.toFixed(2)} m`;
  el("north").textContent = `${northing.toFixed(2)} m`;
  el("local").textContent = `${x.toFixed(2)}, ${y.toFixed(2)} m`;
  const byte = byteAt(easting, northing);
  el("value").textContent = byte < 0 ? "outside the map" : valueWords(state.stack, byte);
  const line = nearestLine(easting, northing);
  el("nearest").textContent = line ? `${apart(shortened(line.name))}, ${line.away.toFixed(2)} m away` : blank;
}

// What the crosshair is on, said once it rests: keys move it step by step.
let resting = 0;
function speak() {
  clearTimeout(resting);
  if (!state.crosshair || state.fromSection) return;
  resting = setTimeout(() => {
    const place = ["east", "north", "value", "nearest"].map((id) => el(id).textContent);
    el("spoken").textContent = `${el("east-name").textContent} ${place[0]}, ${el("north-name").textContent} ${place[1]}, value ${place[2]}, nearest line ${place[3]}`;
  }, 500);
}

export function startReadout() {
  el("east-name").textContent = data.mapped ? `Easting ${data.crs}` : "Map x (local)";
  el("north-name").textContent = data.mapped ? `Northing ${data.crs}` : "Map y (local)";
  on("pointer slice", read);
  on("pointer", speak);
  read();
}
