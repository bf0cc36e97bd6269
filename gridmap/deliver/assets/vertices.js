// Move the vertices of the chosen feature: drag one, or pick it up with a click and put it down with another.
import { say } from "./dom.js";
import { state, change } from "./state.js";
import { EDITABLE, nameOf, nearestFeature, select } from "./features.js";
import { setPath } from "./edits.js";
import { rounded } from "./draw.js";
import { spot } from "./ink.js";

let held = -1, before = null;

function editable() { return state.selected && EDITABLE.includes(state.selected.layer) ? state.selected : null; }

function vertexAt(feature, e, n, reach) {
  let best = -1, least = 1.4 * reach;
  feature.path.forEach((p, k) => {
    const away = Math.hypot(p[0] - e, p[1] - n);
    if (away < least) { least = away; best = k; }
  });
  return best;
}

// A place on the path between two vertices becomes a vertex.
function insertAt(feature, e, n, reach) {
  const count = feature.path.length;
  if (count < 2) return -1;
  for (let k = 0; k + 1 < count + (feature.closed ? 1 : 0); k += 1) {
    const [ax, ay] = feature.path[k], [bx, by] = feature.path[(k + 1) % count], dx = bx - ax, dy = by - ay;
    const t = ((e - ax) * dx + (n - ay) * dy) / (dx * dx + dy * dy || 1);
    if (t > 0.02 && t < 0.98 && Math.hypot(e - ax - t * dx, n - ay - t * dy) < reach) {
      feature.path.splice(k + 1, 0, [e, n]);
      return k + 1;
    }
  }
  return -1;
}

function settle() {
  const feature = editable();
  if (feature && before && held >= 0) {
    feature.path[held] = rounded(feature.path[held]);
    const path = feature.path;
    feature.path = before;
    if (JSON.stringify(path) !== JSON.stringify(before)) setPath(feature, before, path, `move ${nameOf(feature)}`);
  }
  held = -1;
  before = null;
}

export const moveTool = {
  label: "Move vertices",
  short: "Move",
  cursor: "move",
  help: "Choose a feature, then drag a vertex, or click it and click its new place. A click on the path adds one; Delete takes the held one away; Escape puts it back.",
  start() { held = -1; before = null; if (!editable()) say("Choose a feature first: click it on the plan or in the list."); },
  stop() { moveTool.key("Escape"); },
  grab(e, n, reach) {
    const feature = editable();
    if (!feature || held >= 0) return false;
    const k = vertexAt(feature, e, n, reach);
    if (k < 0) return false;
    before = feature.path.map((p) => [...p]);
    held = k;
    return true;
  },
  drag(e, n) { editable().path[held] = [e, n]; change({}); },
  drop() { settle(); },
  hover(e, n) { if (held >= 0 && editable()) { editable().path[held] = [e, n]; change({}); } },
  click(e, n, reach) {
    const feature = editable();
    if (held >= 0 && feature) {
      const still = Math.hypot(before[held]?.[0] - e, before[held]?.[1] - n) < 0.3 * reach;
      feature.path[held] = [e, n];
      if (still && !moveTool.picked) { moveTool.picked = true; return; } // the click that picked it up
      moveTool.picked = false;
      settle();
      return;
    }
    if (feature) {
      const copy = feature.path.map((p) => [...p]), k = vertexAt(feature, e, n, reach), made = k < 0 ? insertAt(feature, e, n, reach) : k;
      if (made >= 0) { held = made; before = copy; moveTool.picked = true; change({}); return; }
    }
    select(nearestFeature(e, n, 1.6 * reach));
  },
  key(name) {
    const feature = editable();
    if (name === "Escape" && feature && before) feature.path = before;
    else if ((name === "Delete" || name === "Backspace") && feature && held >= 0 && feature.path.length > (feature.closed ? 3 : 2)) {
      const path = feature.path.filter((_, k) => k !== held);
      feature.path = before;
      setPath(feature, before, path, `take a vertex off ${nameOf(feature)}`);
    } else return false;
    held = -1;
    before = null;
    moveTool.picked = false;
    change({});
    return true;
  },
  draw(ink, view) {
    const feature = editable();
    if (feature) feature.path.forEach((p, k) => spot(ink, view.toPixel(...p), "#ffffff", k === held ? 8 : 5, k === held));
  },
};
