// Measure on the plan: length of a path, area inside it, depth of the slice at its last vertex.
import { state, change, tell } from "./state.js";
import { areaOf, lengthOf } from "./features.js";
import { plate, spot, stroke } from "./ink.js";

let path = [], closed = false;

function words(points) {
  const parts = [`${lengthOf(points, closed).toFixed(2)} m${closed ? " around" : ""}`];
  if (points.length > 2) parts.push(`${areaOf(points).toFixed(2)} m\u00b2 inside`);
  return parts.join(", ");
}

export const measureTool = {
  label: "Measure",
  help: "Click along what you want to measure; Finish closes the ring, Escape clears. The plate gives length and area.",
  ready: () => path.length > 1,
  start() { path = []; closed = false; },
  stop() { path = []; closed = false; tell("measured-path"); },
  click(e, n, reach) {
    if (closed) { path = []; closed = false; }
    const last = path[path.length - 1];
    if (last && Math.hypot(last[0] - e, last[1] - n) < 0.25 * reach) return;
    path.push([e, n]);
    tell("sketch");
    measureTool.told();
  },
  finish() { closed = path.length > 2; measureTool.told(); },
  told() {
    document.getElementById("measured").textContent = path.length > 1 ? words(path) : "";
    change({});
  },
  key(name) {
    if (name === "Backspace") { path.pop(); closed = false; } else if (name === "Escape") { path = []; closed = false; } else return false;
    tell("sketch");
    measureTool.told();
    return true;
  },
  draw(ink, view, colours) {
    if (!path.length) return;
    const ahead = closed || !state.pointer ? path : [...path, state.pointer];
    const points = ahead.map((p) => view.toPixel(...p));
    stroke(ink, points, "#ffffff", 2, closed, []);
    for (const p of points.slice(0, path.length)) spot(ink, p, "#ffffff", 3.5, true);
    const last = points[points.length - 1];
    plate(ink, words(ahead), last[0] + 14, last[1] + 18, colours);
  },
};
