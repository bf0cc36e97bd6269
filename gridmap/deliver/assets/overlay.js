// What lies over the slice: lines walked, edge of the grid, features, control points, the crosshair.
import { data } from "./data.js";
import { shortened } from "./dom.js";
import { state } from "./state.js";
import { all, isShown, nameOf, statusOf } from "./features.js";
import { DASH, MARK, STATUS, label, spot, stroke, trace } from "./ink.js";

const FINDING = { check: "#ffd23f", above_ground: "#7fd4ff" };

function pixels(view, path) { return path.map(([e, n]) => view.toPixel(e, n)); }

export function drawLines(ink, view) {
  for (const line of data.lines) {
    trace(ink, pixels(view, line.path), false);
    ink.strokeStyle = "rgba(16,24,28,0.75)";
    ink.lineWidth = 2.4;
    ink.stroke();
    ink.strokeStyle = "rgba(255,255,255,0.85)";
    ink.lineWidth = 1;
    ink.stroke();
  }
}

export function drawOutline(ink, view, colours) {
  if (data.outline.length < 2) return;
  trace(ink, pixels(view, data.outline), true);
  ink.strokeStyle = colours.edge;
  ink.lineWidth = 1.5;
  ink.stroke();
}

export function drawFeatures(ink, view) {
  const shown = all.features.filter(isShown);
  for (const feature of shown) {
    const finding = FINDING[feature.layer], status = statusOf(feature), chosen = feature === state.selected;
    const colour = finding || STATUS[status] || STATUS.found, path = pixels(view, feature.path);
    const quiet = feature.layer === "rejected" && !chosen;
    if (chosen && path.length > 1) {
      trace(ink, path, feature.closed);
      ink.strokeStyle = "rgba(255,255,255,0.85)";
      ink.lineWidth = 11;
      ink.lineJoin = "round";
      ink.stroke();
    }
    if (path.length > 1) stroke(ink, path, colour, quiet ? 1 : chosen ? 3.5 : 2.5, feature.closed, DASH[status] || []);
    else spot(ink, path[0], colour, chosen ? 9 : 7, chosen);
  }
  for (const feature of shown) {
    if (feature.layer === "rejected" && feature !== state.selected) continue;
    const k = feature.closed ? 0 : Math.floor((feature.path.length - 1) / 2);
    const [x, y] = view.toPixel(...feature.path[k]);
    label(ink, shortened(nameOf(feature), 28) + (MARK[statusOf(feature)] || ""), x + 10, y - 12);
  }
}

export function drawControl(ink, view, colours) {
  for (const point of data.control) {
    const [x, y] = view.toPixel(...point.at);
    trace(ink, [[x, y - 8], [x + 7, y + 5], [x - 7, y + 5]], true);
    ink.fillStyle = colours.edge;
    ink.strokeStyle = "#fff";
    ink.lineWidth = 2;
    ink.stroke();
    ink.fill();
    label(ink, shortened(point.name), x, y < view.frame.top + 28 ? y + 20 : y - 16, "center");
  }
}

export function drawPointer(ink, view) {
  if (!state.pointer || !state.crosshair) return;
  const [x, y] = view.toPixel(...state.pointer);
  for (const [colour, width] of [["#10181c", 3.5], ["#ffffff", 1.5]]) {
    ink.strokeStyle = colour;
    ink.lineWidth = width;
    ink.beginPath();
    for (const [dx, dy] of [[1, 0], [-1, 0], [0, 1], [0, -1]]) {
      ink.moveTo(x + 5 * dx, y + 5 * dy);
      ink.lineTo(x + 14 * dx, y + 14 * dy);
    }
    ink.stroke();
  }
}
