// Draw a line, an area or a point: vertex by vertex, by click, tap or Enter at the crosshair.
import { say } from "./dom.js";
import { state, change, tell } from "./state.js";
import { addFeature } from "./edits.js";
import { STATUS, plate, spot, stroke } from "./ink.js";
import { lengthOf } from "./features.js";

const LEAST = { linear: 2, outlines: 3, points: 1 };

export function rounded([e, n]) { return [Math.round(e * 1000) / 1000, Math.round(n * 1000) / 1000]; }

export function drawTool(layer, label) {
  let path = [];
  const tool = {
    label,
    short: { linear: "+ Line", outlines: "+ Area", points: "+ Point" }[layer],
    help: layer === "points" ? "Click the place. Keys: arrows move the crosshair, Enter sets it."
      : "Click each vertex; a double click, Finish or F ends. Keys: arrows move the crosshair, Enter sets a vertex, Backspace takes it back, Escape gives up.",
    ready: () => path.length >= LEAST[layer],
    start() { path = []; },
    stop() { path = []; },
    click(e, n, reach) {
      const last = path[path.length - 1];
      if (last && Math.hypot(last[0] - e, last[1] - n) < 0.25 * reach) return; // the second click of a double click
      path.push(rounded([e, n]));
      if (layer === "points") tool.finish();
      tell("sketch");
      change({});
    },
    finish() {
      if (!tool.ready()) { say(`${label}: ${LEAST[layer]} vertices are needed.`); return; }
      const drawn = addFeature(layer, path);
      path = [];
      tell("sketch");
      say(`${drawn.columns.id} is drawn. Say what it is in the list; its depth is measured by the next map.`);
    },
    key(name) {
      if (name === "Backspace") path.pop();
      else if (name === "Escape") path = [];
      else if (name === "f") tool.finish();
      else return false;
      tell("sketch");
      change({});
      return true;
    },
    hover() {},
    draw(ink, view, colours) {
      if (!path.length) return;
      const points = path.map((p) => view.toPixel(...p));
      const ahead = state.pointer ? [...points, view.toPixel(...state.pointer)] : points;
      stroke(ink, ahead, STATUS.drawn, 2.5, layer === "outlines", [8, 5]);
      for (const p of points) spot(ink, p, STATUS.drawn, 4, true);
      const length = lengthOf(state.pointer ? [...path, state.pointer] : path);
      ink.font = ink.font.replace(/^\d+px/, "13px");
      plate(ink, `${length.toFixed(2)} m`, ahead[ahead.length - 1][0] + 14, ahead[ahead.length - 1][1] + 18, colours);
    },
  };
  if (layer === "points") delete tool.finish;
  if (layer === "points") {
    tool.click = (e, n) => { addFeature("points", [rounded([e, n])]); say("The point is drawn."); };
  }
  return tool;
}
