// The depth ruler: a slider down its side, depths beside it, and how strong each slice is.
import { data } from "./data.js";
import { el, make } from "./dom.js";
import { state, on, change } from "./state.js";
import { sliceCells, windowWords } from "./slices.js";
import { decimals, roundStep } from "./furniture.js";
import { FACE, fresh, themed } from "./ink.js";

const THUMB = 22;
const strengths = data.stacks.map((stack) => new Float32Array(stack.windows.length).fill(-1));

export function windowsOf() { return data.stacks[state.stack].windows; }

// Mean stored root of a slice, 0 to 1: what the bar beside the ruler shows.
export function measureSlice(stack, slice) {
  const cells = sliceCells(stack, slice);
  let sum = 0, known = 0;
  for (let k = 0; k < cells.length; k += 7) if (cells[k]) { sum += cells[k] - 1; known += 1; }
  strengths[stack][slice] = known ? sum / known / 254 : 0;
}

export function goTo(slice) {
  const last = windowsOf().length - 1;
  change({ slice: Math.min(last, Math.max(0, slice)) }, "slice");
}

function showSlice() {
  const windows = windowsOf(), slider = el("depth"), words = windowWords(state.stack, state.slice, state.together);
  slider.max = String(windows.length - 1);
  slider.value = String(state.slice);
  slider.setAttribute("aria-valuetext", words);
  el("window").textContent = words;
  el("up").disabled = state.slice === 0;
  el("down").disabled = state.slice === windows.length - 1;
}

// Place of a slice's middle on the axis that the stack is cut by.
function axisOf(window_) {
  if (window_.axis === "time") return (window_.ns[0] + window_.ns[1]) / 2;
  const middle = (window_.top + window_.base) / 2;
  return window_.axis === "elevation" ? window_.datum - middle : middle;
}

function drawRuler() {
  const canvas = el("ruler");
  if (!canvas.clientWidth) return;
  const ink = fresh(canvas), colours = themed(), windows = windowsOf();
  const height = canvas.clientHeight - THUMB, width = canvas.clientWidth, last = Math.max(1, windows.length - 1);
  const yOf = (slice) => THUMB / 2 + height * slice / last;
  const measured = strengths[state.stack], most = Math.max(0.01, ...measured);
  const thick = Math.max(1, height / last - 1);
  windows.forEach((_, k) => {
    if (measured[k] < 0) return;
    const inside = k >= state.slice && k < state.slice + state.together;
    ink.fillStyle = inside ? colours.accent : colours.rule;
    ink.fillRect(0, yOf(k) - thick / 2, 5 + 0.32 * width * measured[k] / most, thick);
  });
  ink.font = `12px ${FACE}`;
  ink.fillStyle = colours.soft;
  ink.textAlign = "right";
  ink.textBaseline = "middle";
  const low = axisOf(windows[0]), high = axisOf(windows[windows.length - 1]);
  const step = roundStep(Math.abs(high - low) || 1, Math.max(2, height / 44)), digits = Math.max(1, decimals(step));
  for (let k = Math.ceil(Math.min(low, high) / step - 1e-9); k * step <= Math.max(low, high) + 1e-9; k += 1) {
    const y = yOf((k * step - low) / (high - low || 1) * last);
    ink.fillText((k * step).toFixed(digits), width - 3, y);
    ink.fillRect(width * 0.4, y - 0.5, 5, 1);
  }
}

const KEYS = { ArrowDown: 1, ArrowRight: 1, ArrowUp: -1, ArrowLeft: -1, PageDown: 5, PageUp: -5 };

export function startRuler() {
  const slider = el("depth");
  slider.addEventListener("input", () => goTo(Number(slider.value)));
  slider.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    if (KEYS[event.key]) goTo(state.slice + KEYS[event.key]);
    else if (event.key === "Home") goTo(0);
    else if (event.key === "End") goTo(windowsOf().length - 1);
    else return;
    event.preventDefault();
  });
  el("up").addEventListener("click", () => goTo(state.slice - 1));
  el("down").addEventListener("click", () => goTo(state.slice + 1));
  data.stacks.forEach((stack, k) => {
    if (stack.windows.length) make("option", stack.label, el("stack")).value = String(k);
  });
  el("stack").addEventListener("change", () => changeStack(Number(el("stack").value)));
  for (const many of [1, 2, 3, 5, 8, 12, 20]) {
    if (many < windowsOf().length) make("option", many === 1 ? "1 slice" : `${many} slices`, el("together")).value = String(many);
  }
  el("together").addEventListener("change", () => change({ together: Number(el("together").value) }, "slice"));
  new ResizeObserver(drawRuler).observe(el("ruler"));
  on("slice", showSlice);
  on("draw measured", drawRuler);
  showSlice();
}

// Another stack shows about the same share of the way down.
function changeStack(to) {
  const from = windowsOf().length - 1, last = data.stacks[to].windows.length - 1;
  const slice = from > 0 ? Math.round(state.slice / from * last) : 0;
  change({ stack: to, slice }, "slice", "stack");
  el("ruler-unit").textContent = unit();
}

export function unit() { return { depth: "depth, m", time: "time, ns", elevation: "elevation, m" }[windowsOf()[0].axis]; }
