// One line: its radargram, the findings on it, the trace under the finger, and the controls about them.
import { CLASS, STATE, data, el, findingsOf, make, remember, remembered, stretchWords, tables } from "./checkdata.js";
import { drawRadargram, nearestTrace, paint, sampleAt, span, traceAt } from "./checkradargram.js";
import { amplitude, drawWiggle } from "./checktrace.js";

const canvas = el("radargram");
const state = { line: -1, trace: 0, sample: 0, zoom: 1, middle: 0, table: Math.min(tables.length - 1, remembered("scale", 0)), finding: null };

export const current = () => state.line;

export function redraw() {
  if (state.line < 0 || el("line").hidden) return;
  drawRadargram(state);
  drawWiggle(state);
  readout();
}

function readout() {
  const { radargram } = data.lines[state.line], time = radargram.start + state.sample * radargram.step;
  const percent = Math.round(100 * amplitude(state)), depth = time > 0 ? `${(time * data.velocity / 2).toFixed(2)} m` : "above";
  el("at-trace").textContent = `${radargram.numbers[state.trace]}`;
  const along = data.placed ? `${radargram.along[state.trace].toFixed(2)} m` : "not known";
  el("at-along").textContent = along;
  el("at-time").textContent = `${time.toFixed(1)} ns`;
  el("at-depth").textContent = depth;
  el("at-value").textContent = `${percent > 0 ? "+" : percent < 0 ? "\u2212" : ""}${Math.abs(percent)} %`;
  canvas.setAttribute("aria-valuemin", radargram.numbers[0]);
  canvas.setAttribute("aria-valuemax", radargram.numbers[radargram.rows - 1]);
  canvas.setAttribute("aria-valuenow", radargram.numbers[state.trace]);
  canvas.setAttribute("aria-valuetext", `Trace ${radargram.numbers[state.trace]}, ${data.placed ? `${radargram.along[state.trace].toFixed(2)} metres` : "distance not known"}, ${time.toFixed(1)} nanoseconds, depth ${depth}, amplitude ${percent} percent`);
}

export function go(trace, sample, follow = true) {
  const { rows, columns } = data.lines[state.line].radargram;
  state.trace = Math.max(0, Math.min(rows - 1, trace));
  state.sample = Math.max(0, Math.min(columns - 1, sample));
  const [first, last] = span(state);
  if (follow && (state.trace < first || state.trace > last)) zoomTo(state.zoom);
  else redraw();
}

function zoomTo(zoom, middle = state.trace) {
  const { rows } = data.lines[state.line].radargram;
  state.zoom = Math.max(1, Math.min(rows / 8, zoom));
  state.middle = middle;
  const [first, last] = span(state);
  el("earlier").disabled = first === 0;
  el("later").disabled = last === rows - 1;
  el("narrow").disabled = state.zoom >= rows / 8;
  el("wide").disabled = el("whole").disabled = state.zoom === 1;
  redraw();
}

export function showFinding(f) {
  state.finding = f;
  for (const mark of el("marks").children) mark.setAttribute("aria-pressed", String(f !== null && mark.dataset.number === String(f.number)));
  el("told").textContent = f === null ? "" : `${f.title[0].toUpperCase()}${f.title.slice(1)}: ${f.words}${f.act ? `. ${f.act}` : ""}`;
  if (f !== null && f.from !== null) {
    const { along, rows } = data.lines[state.line].radargram;
    const [a, b] = [f.from, f.to].map((m) => nearestTrace(along, m));
    state.trace = Math.round((a + b) / 2);
    const wanted = rows / Math.max(60, 4 * (b - a + 1));
    zoomTo(wanted > 1.6 ? wanted : 1, state.trace);
  }
  redraw();
}

export function showLine(index, finding = null) {
  const line = data.lines[index], found = findingsOf(index), { radargram } = line;
  state.line = index;
  state.zoom = 1;
  state.trace = Math.floor(radargram.rows / 2);
  state.sample = Math.min(radargram.columns - 1, Math.max(0, Math.round((radargram.columns - radargram.start / radargram.step) * 0.25)));
  state.middle = state.trace;
  el("line-name").textContent = line.name;
  const worst = line.severity && line.severity !== "note" ? `${STATE[line.severity]}` : "Good";
  el("line-state").textContent = `${worst}; ${data.placed ? `${line.length.toFixed(1)} m, ` : ""}${line.traces} traces`;
  el("before").disabled = index === 0;
  el("after").disabled = index === data.lines.length - 1;
  el("marks").textContent = "";
  for (const f of found) {
    const button = make("button", el("marks"), undefined, CLASS[f.severity]);
    button.type = "button";
    button.dataset.number = f.number;
    make("span", button, String(f.number), "tag");
    make("span", button, `${stretchWords(f)}: ${f.title}`);
    button.addEventListener("click", () => showFinding(f));
  }
  const joined = [radargram.tracesJoined > 1 ? `, of ${radargram.tracesJoined} traces the oddest shown` : "", radargram.samplesJoined > 1 ? `, ${radargram.samplesJoined} samples joined to one` : ""].join("");
  el("shown").textContent = `${data.gain}${joined}. ${data.depthWords}`;
  paint(state);
  zoomTo(1);
  showFinding(finding ?? (found.length && found[0].severity !== "note" ? found[0] : null));
}

// Half of what is shown further along; the trace in hand comes along.
function move(way) {
  const [first, last] = span(state), step = Math.max(1, Math.round((last - first + 1) / 2)), { rows } = data.lines[state.line].radargram;
  state.trace = Math.max(0, Math.min(rows - 1, state.trace + way * step));
  zoomTo(state.zoom, Math.round((first + last + 1) / 2) + way * step);
}

function startScales() {
  tables.forEach((table, k) => {
    const label = make("label", el("scales")), input = make("input", label), ramp = make("canvas", label);
    input.type = "radio";
    input.name = "scale";
    input.checked = k === state.table;
    ramp.width = 64;
    ramp.height = 1;
    ramp.setAttribute("aria-hidden", "true");
    const ink = ramp.getContext("2d"), image = ink.createImageData(64, 1);
    for (let i = 0; i < 64; i += 1) image.data.set([...table.rgb.slice(12 * i, 12 * i + 3), 255], 4 * i);
    ink.putImageData(image, 0, 0);
    make("span", label, table.label);
    input.addEventListener("change", () => { state.table = k; remember("scale", k); paint(state); redraw(); });
  });
}

const STEP = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1], PageUp: [-10, 0], PageDown: [10, 0] };

function keys(event) {
  const { rows } = data.lines[state.line].radargram;
  if (STEP[event.key]) go(state.trace + STEP[event.key][0], state.sample + STEP[event.key][1]);
  else if (event.key === "Home") go(0, state.sample);
  else if (event.key === "End") go(rows - 1, state.sample);
  else if (event.key === "+" || event.key === "=") zoomTo(2 * state.zoom);
  else if (event.key === "-") zoomTo(state.zoom / 2);
  else return;
  event.preventDefault();
}

export function startLine() {
  startScales();
  let pressed = false;
  const follow = (event) => { const box = canvas.getBoundingClientRect(); go(traceAt(state, event.clientX - box.left), sampleAt(state, event.clientY - box.top), false); };
  canvas.addEventListener("pointerdown", (event) => { pressed = true; canvas.setPointerCapture(event.pointerId); follow(event); });
  canvas.addEventListener("pointermove", (event) => { if (pressed) follow(event); });
  for (const name of ["pointerup", "pointercancel"]) canvas.addEventListener(name, () => { pressed = false; });
  canvas.addEventListener("keydown", keys);
  el("narrow").addEventListener("click", () => zoomTo(2 * state.zoom));
  el("wide").addEventListener("click", () => zoomTo(state.zoom / 2));
  el("earlier").addEventListener("click", () => move(-1));
  el("later").addEventListener("click", () => move(1));
  el("whole").addEventListener("click", () => zoomTo(1));
}
