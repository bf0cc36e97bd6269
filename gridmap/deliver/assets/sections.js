// Opening sections, walking along them, and what joins them with the plan.
import { data } from "./data.js";
import { el, make, apart, say, shortened } from "./dom.js";
import { state, on, change, tell } from "./state.js";
import { view, drawAbove } from "./plan.js";
import { depthWords } from "./velocity.js";
import { goTo, windowsOf } from "./ruler.js";
import { nearestLine, awayFrom, lengthOf } from "./features.js";
import { lineAcross, placeAt } from "./crossing.js";
import { cutSlices, cutVolume, hasRadargrams, radargram } from "./radargrams.js";
import { section, gauge, depthOfDown, drawSection, ends, fromScreen, moveCursor, toScreen } from "./section.js";
import { curve, curveWords, velocityThrough } from "./hyperbola.js";
import { plate, spot, stroke } from "./ink.js";
import { rounded } from "./draw.js";

const DEPTHS = Math.max(0, data.stacks.findIndex((stack) => stack.windows[0].axis !== "time"));

function show(gram, line, name, along) {
  Object.assign(section, { open: true, gram, line, name, along: along ?? null, down: null });
  el("section-box").hidden = false;
  el("section-line").value = String(section.index);
  el("section").setAttribute("aria-label", `Vertical section, ${name}`);
  for (const part of document.querySelectorAll(".of-time")) part.hidden = gram.kind !== "time";
  el("curve-form").hidden = gram.kind !== "time" || !curve.on;
  readSection();
  change({}, "sectioned");
}

export async function openLine(index, along) {
  if (!hasRadargrams() || !data.lines[index]) return;
  section.index = index;
  const line = data.lines[index], gram = await radargram(index);
  if (section.index === index) show(gram, line, `line ${shortened(line.name)}`, along ?? section.along);
}

export async function openPath(path) {
  if (!lengthOf(path)) return;
  section.index = -1;
  showCurve(false);
  showGauge(false);
  const gram = (await cutVolume(path)) || cutSlices(path, DEPTHS);
  show(gram, { path, along: gram.along }, gram.name, 0);
}

export function openAcross(feature) {
  const met = feature.path.length > 1 ? lineAcross(feature, data.lines) : null;
  const near = met || nearestLine(...feature.path[0]);
  if (!near) { say("No walked line lies near it."); return; }
  openLine(near.index, near.along);
}

function close() {
  section.open = false;
  section.index = -1;
  el("section-box").hidden = true;
  change({}, "sectioned");
  el("plan").focus();
}

// Words under the cursor: distance, time, depth with one standard deviation.
function readSection() {
  const parts = [];
  if (section.along !== null) parts.push(`${section.along.toFixed(2)} m along`);
  if (section.down !== null) {
    const depth = depthOfDown(section.down);
    if (section.gram.kind === "time") parts.push(`${section.down.toFixed(1)} ns`);
    parts.push(`depth ${depthWords(depth)}`);
  }
  if (gauge.on && gauge.from && section.down !== null) {
    const [from, to] = [gauge.from, gauge.to || [section.along, section.down]], deep = Math.abs(depthOfDown(to[1]) - depthOfDown(from[1])), far = Math.abs(to[0] - from[0]);
    parts.push(`measured ${far.toFixed(2)} m along, ${deep.toFixed(2)} m down, ${Math.hypot(far, deep).toFixed(2)} m straight`);
  }
  el("section-read").textContent = parts.join(", ");
  el("curve-read").textContent = curve.on && curve.along !== null ? curveWords() : curve.on ? "Click the top of a curve" : "";
}

function follow(along, down) {
  moveCursor(along, down);
  if (section.line) change({ pointer: placeAt(section.line, along), crosshair: true, fromSection: true }, "pointer");
  readSection();
}

function setSlice(down) {
  const depth = depthOfDown(down), windows = windowsOf();
  let best = 0, least = Infinity;
  windows.forEach((w, k) => {
    const off = Math.abs((w.top + w.base) / 2 - depth);
    if (w.axis !== "elevation" && off < least) { least = off; best = k; }
  });
  if (least < Infinity) goTo(best);
}

// From one place in the section to another; a third click begins anew.
function setGauge(along, down) {
  if (!gauge.from || gauge.to) Object.assign(gauge, { from: [along, down], to: null });
  else gauge.to = [along, down];
}

function showGauge(on_) {
  Object.assign(gauge, { on: on_, from: null, to: null });
  el("gauge").setAttribute("aria-pressed", String(on_));
}

function showCurve(on_) {
  if (on_) showGauge(false);
  curve.on = on_;
  el("curve").setAttribute("aria-pressed", String(on_));
  el("curve-form").hidden = !on_;
}

let dragging = null;

function down(event) {
  const [along, ns] = fromScreen(event.offsetX, event.offsetY);
  el("section").setPointerCapture(event.pointerId);
  if (gauge.on) { setGauge(along, ns); follow(along, ns); return; }
  if (!curve.on) { dragging = "slice"; setSlice(ns); follow(along, ns); return; }
  const apex = curve.along === null ? null : toScreen(curve.along, curve.ns);
  if (!apex || Math.hypot(apex[0] - event.offsetX, apex[1] - event.offsetY) < 22 || ns < curve.ns) {
    dragging = "apex";
    Object.assign(curve, { along, ns: Math.max(0.5, ns) });
  } else {
    dragging = "flank";
    setVelocity(velocityThrough(along - curve.along, ns));
  }
  follow(along, ns);
}

function moved(event) {
  const [along, ns] = fromScreen(event.offsetX, event.offsetY);
  if (dragging === "slice") setSlice(ns);
  if (dragging === "apex") Object.assign(curve, { along, ns: Math.max(0.5, ns) });
  if (dragging === "flank" && ns > curve.ns) setVelocity(velocityThrough(along - curve.along, ns));
  follow(along, ns);
}

export function setVelocity(v) {
  curve.v = Math.min(0.2998, Math.max(0.03, v));
  el("curve-v").value = String(curve.v);
  el("curve-v").setAttribute("aria-valuetext", `${curve.v.toFixed(3)} metres per nanosecond`);
  readSection();
  change({});
}

const STEPS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };

function key(event) {
  if (event.ctrlKey || event.metaKey || event.altKey) return;
  const e = ends(), along = section.along ?? (e.first + e.last) / 2, now = section.down ?? (e.top + e.base) / 3;
  if (STEPS[event.key]) {
    const [dx, dy] = STEPS[event.key], many = event.shiftKey ? 10 : 1;
    follow(
      Math.min(e.last, Math.max(e.first, along + many * dx * section.gram.step)),
      Math.min(e.base, Math.max(e.top, now + many * dy * (e.base - e.top) / 200)),
    );
  } else if (event.key === "Enter" || event.key === " ") {
    if (gauge.on) { setGauge(along, now); follow(along, now); } else if (curve.on) { Object.assign(curve, { along, ns: Math.max(0.5, now) }); follow(along, now); } else setSlice(now);
  } else if (event.key === "[" || event.key === "]") step(event.key === "[" ? -1 : 1);
  else if (event.key === "Escape") close();
  else return;
  event.preventDefault();
}

function step(by) {
  if (section.index < 0) return;
  openLine((section.index + by + data.lines.length) % data.lines.length);
}

// The plan's pointer, brought to the open section where it is near.
function fromPlan() {
  if (state.fromSection) { state.fromSection = false; return; }
  if (!section.open || !state.pointer || !section.line) return;
  const near = awayFrom(section.line.path, false, ...state.pointer);
  if (near.away * view.scale > 60) return;
  const from = section.line.along[near.piece], to = section.line.along[near.piece + 1];
  section.along = from + near.share * (to - from);
  section.down = null;
  readSection();
}

function drawOnPlan(ink) {
  if (!section.open) return;
  const points = section.line.path.map((p) => view.toPixel(...p));
  stroke(ink, points, "#ffd23f", 2.5);
  if (section.along !== null) spot(ink, view.toPixel(...placeAt(section.line, section.along)), "#ffd23f", 5, true);
}

export const sectionTool = {
  label: "Line section",
  help: "Click a walked line to see what it recorded below.",
  click(e, n) {
    const near = nearestLine(e, n);
    if (near) openLine(near.index, near.along);
  },
};

function cutTool() {
  let path = [];
  const tool = {
    label: "Cut section",
    help: "Click the corners of a section through the slices, anywhere; a double click, Finish or F opens it.",
    ready: () => path.length > 1,
    start() { path = []; },
    stop() { path = []; },
    click(e, n, reach) {
      const last = path[path.length - 1];
      if (last && Math.hypot(last[0] - e, last[1] - n) < 0.25 * reach) return;
      path.push(rounded([e, n]));
      tell("sketch");
      change({});
    },
    finish() {
      if (path.length > 1) openPath(path);
      path = [];
      tell("sketch");
    },
    key(name) {
      if (name === "Backspace") path.pop(); else if (name === "Escape") path = []; else if (name === "f") tool.finish(); else return false;
      tell("sketch");
      change({});
      return true;
    },
    draw(ink, v, colours) {
      if (!path.length) return;
      const ahead = (state.pointer ? [...path, state.pointer] : path).map((p) => v.toPixel(...p)), last = ahead[ahead.length - 1];
      stroke(ink, ahead, "#ffd23f", 2, false, [7, 5]);
      plate(ink, `${lengthOf(state.pointer ? [...path, state.pointer] : path).toFixed(2)} m`, last[0] + 14, last[1] + 18, colours);
    },
  };
  return tool;
}

export const pathTool = cutTool();

export function startSections() {
  const list = el("section-line"), canvas = el("section");
  make("option", "drawn section", list).value = "-1";
  data.lines.forEach((line, k) => { make("option", apart(shortened(line.name)), list).value = String(k); });
  list.addEventListener("change", () => { if (Number(list.value) >= 0) openLine(Number(list.value)); });
  el("section-before").addEventListener("click", () => step(-1));
  el("section-after").addEventListener("click", () => step(1));
  el("section-close").addEventListener("click", close);
  el("gain").addEventListener("input", () => { section.gain = Number(el("gain").value); change({}); });
  el("echo").addEventListener("change", () => { section.envelope = el("echo").value === "envelope"; change({}); });
  el("curve").addEventListener("click", () => { showCurve(!curve.on); readSection(); change({}); });
  el("gauge").addEventListener("click", () => { showCurve(false); showGauge(!gauge.on); readSection(); change({}); });
  el("curve-v").addEventListener("input", () => setVelocity(Number(el("curve-v").value)));
  el("curve-map").textContent = `(map: ${data.velocity.v[0].toFixed(3)} \u00b1 ${data.velocity.sd.toFixed(3)})`;
  canvas.addEventListener("pointerdown", down);
  canvas.addEventListener("pointermove", moved);
  canvas.addEventListener("pointerup", () => { dragging = null; });
  canvas.addEventListener("pointercancel", () => { dragging = null; });
  canvas.addEventListener("keydown", key);
  new ResizeObserver(() => change({})).observe(canvas);
  on("pointer", fromPlan);
  on("draw", drawSection);
  drawAbove(drawOnPlan);
  setVelocity(curve.v);
}

