// The plan: base picture, slice, and all that lies over it.
import { data } from "./data.js";
import { el } from "./dom.js";
import { state, on } from "./state.js";
import { View } from "./view.js";
import { joinedSlices, usualEnds } from "./slices.js";
import { paintCells, sliceShades, tables } from "./shade.js";
import { fresh, themed } from "./ink.js";
import { drawNorth, drawScaleBar, drawTicks } from "./furniture.js";
import { drawControl, drawFeatures, drawLines, drawOutline, drawPointer } from "./overlay.js";

export const view = new View(el("plan"), data.raster.bounds);
export const base = { picture: null, bounds: null };
const painted = { key: "", canvas: document.createElement("canvas") };
const above = []; // what tools draw over everything

export function drawAbove(does) { above.push(does); }

export function shownCells() { return joinedSlices(state.stack, state.slice, state.together); }

// Bytes at the ends of the colour scale: of all slices, or of this one.
export function scaleEnds() { return state.perSlice ? usualEnds(shownCells()) : [1, 255]; }

function paintSlice() {
  const key = [state.stack, state.slice, state.together, state.table, state.perSlice].join("/");
  if (painted.key === key) return;
  const { rows, columns } = data.stacks[state.stack];
  paintCells(painted.canvas, shownCells(), rows, columns, sliceShades(tables[state.table], ...scaleEnds()));
  painted.key = key;
}

// The slice as it is painted now: what the view in three dimensions lays into the ground.
export function paintedSlice() {
  paintSlice();
  return painted.canvas;
}

let hatch = null;

function hatched(ink, colours) {
  if (hatch && hatch.of === colours.of) return hatch.pattern;
  const tile = document.createElement("canvas");
  tile.width = tile.height = 8;
  const pen = tile.getContext("2d");
  pen.fillStyle = colours.hatch;
  pen.fillRect(0, 0, 8, 8);
  pen.strokeStyle = colours.stroke;
  pen.lineWidth = 1.2;
  for (const shift of [-8, 0, 8]) {
    pen.beginPath();
    pen.moveTo(shift, 8);
    pen.lineTo(shift + 8, 0);
    pen.stroke();
  }
  hatch = { of: colours.of, pattern: ink.createPattern(tile, "repeat") };
  return hatch.pattern;
}

function drawRaster(ink, colours) {
  const { west, north, cell } = data.raster, [, south, east] = data.raster.bounds;
  const [x, y] = view.toPixel(west, north), [right, bottom] = view.toPixel(east, south), side = cell * view.scale;
  ink.save();
  ink.beginPath();
  ink.rect(x, y, right - x, bottom - y);
  ink.clip();
  if (!base.picture || !state.shown.base) {
    ink.fillStyle = hatched(ink, colours);
    ink.fillRect(x, y, right - x, bottom - y);
  }
  ink.imageSmoothingEnabled = side < 1;
  ink.globalAlpha = state.opacity;
  ink.drawImage(painted.canvas, x, y, side * painted.canvas.width, side * painted.canvas.height);
  ink.restore();
}

function drawBase(ink) {
  if (!base.picture || !state.shown.base) return;
  const [west, south, east, north] = base.bounds;
  const [x, y] = view.toPixel(west, north), [right, bottom] = view.toPixel(east, south);
  ink.drawImage(base.picture, x, y, right - x, bottom - y);
}

export function drawPlan() {
  if (state.view !== "plan") return;
  paintSlice();
  const ink = fresh(view.canvas), colours = themed(), frame = view.frame;
  ink.save();
  ink.beginPath();
  ink.rect(frame.left, frame.top, frame.width, frame.height);
  ink.clip();
  drawBase(ink);
  drawRaster(ink, colours);
  if (state.shown.lines) drawLines(ink, view);
  if (state.shown.outline) drawOutline(ink, view, colours);
  drawFeatures(ink, view);
  if (state.shown.control) drawControl(ink, view, colours);
  for (const does of above) does(ink, view, colours);
  drawPointer(ink, view);
  drawScaleBar(ink, view, colours);
  ink.restore();
  drawNorth(ink, view, colours, data.mapped ? "N" : "y");
  drawTicks(ink, view, colours);
}

on("draw", drawPlan);
