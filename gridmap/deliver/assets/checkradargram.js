// The radargram on its canvas: cells in the colours of a scale, axes, what is wrong as bands in a gutter, the trace in hand.
import { CLASS, cellsOf, colour, data, el, tables, ticks } from "./checkdata.js";
import { bandStyle } from "./checkplan.js";

export const FRAME = { left: 58, right: 52, top: 46, bottom: 42 };
const STEPS = 63;
const sheet = el("radargram"), picture = document.createElement("canvas");

export function sized(target) {
  const ratio = window.devicePixelRatio || 1, width = Math.round(target.clientWidth), height = Math.round(target.clientHeight);
  if (target.width !== Math.round(width * ratio) || target.height !== Math.round(height * ratio)) {
    target.width = Math.round(width * ratio);
    target.height = Math.round(height * ratio);
  }
  const ink = target.getContext("2d");
  ink.setTransform(ratio, 0, 0, ratio, 0, 0);
  ink.clearRect(0, 0, width, height);
  ink.font = `15px ${getComputedStyle(document.body).fontFamily}`;
  return { ink, width, height };
}

export function paint(state) {
  const line = data.lines[state.line], { rows, columns } = line.radargram, cells = cellsOf(state.line), rgb = tables[state.table].rgb;
  picture.width = rows;
  picture.height = columns;
  const ink = picture.getContext("2d"), image = ink.createImageData(rows, columns), out = new Uint32Array(image.data.buffer), shade = new Uint32Array(STEPS + 2);
  for (let k = 1; k <= STEPS; k += 1) {
    const at = 3 * Math.round((k - 1) / (STEPS - 1) * 255);
    shade[k] = 0xff000000 | rgb[at + 2] << 16 | rgb[at + 1] << 8 | rgb[at];
  }
  for (let trace = 0; trace < rows; trace += 1) for (let sample = 0; sample < columns; sample += 1) out[sample * rows + trace] = shade[cells[trace * columns + sample]];
  ink.putImageData(image, 0, 0);
}

// First and last trace shown: a part of the line about the trace in hand.
export function span(state) {
  const { rows } = data.lines[state.line].radargram, shown = Math.max(8, Math.round(rows / state.zoom));
  if (shown >= rows) return [0, rows - 1];
  const first = Math.max(0, Math.min(rows - shown, Math.round(state.middle - shown / 2)));
  state.middle = first + shown / 2;
  return [first, first + shown - 1];
}

export function traceAt(state, x) {
  const [first, last] = span(state), width = sheet.clientWidth - FRAME.left - FRAME.right;
  return Math.max(first, Math.min(last, Math.floor(first + (x - FRAME.left) / width * (last - first + 1))));
}

export function sampleAt(state, y) {
  const { columns } = data.lines[state.line].radargram, height = sheet.clientHeight - FRAME.top - FRAME.bottom;
  return Math.max(0, Math.min(columns - 1, Math.floor((y - FRAME.top) / height * columns)));
}

function xOf(state, trace, width) { const [first, last] = span(state); return FRAME.left + (trace - first + 0.5) / (last - first + 1) * width; }

export function nearestTrace(along, metres) {
  let best = 0;
  along.forEach((a, k) => { if (Math.abs(a - metres) < Math.abs(along[best] - metres)) best = k; });
  return best;
}

function drawMarks(ink, state, width, height) {
  const line = data.lines[state.line], right = FRAME.left + width, foot = FRAME.top + height;
  for (const f of [...data.findings].reverse()) {
    if (f.line !== state.line) continue;
    const kind = CLASS[f.severity], tint = colour(kind), along = line.radargram.along;
    const [a, b] = f.from === null ? [FRAME.left - 9, right + 9] : [f.from, f.to].map((m) => xOf(state, nearestTrace(along, m), width));
    const left = Math.max(FRAME.left, Math.min(a, b) - 3), end = Math.min(right, Math.max(a, b) + 3);
    if (end < FRAME.left || left > right) continue;
    for (const [k, style] of bandStyle(kind, 12).entries()) {
      ink.strokeStyle = k ? colour("card") : tint;
      ink.lineWidth = style["stroke-width"];
      ink.setLineDash((style["stroke-dasharray"] || "").split(" ").filter(Boolean).map(Number));
      for (const y of [FRAME.top - 8, foot + 7]) { ink.beginPath(); ink.moveTo(left, y); ink.lineTo(end, y); ink.stroke(); }
    }
    for (const x of f.from === null ? [] : [left, end]) {
      ink.setLineDash([]);
      ink.strokeStyle = "#ffffff"; ink.lineWidth = 5; stroke(ink, x, FRAME.top, x, foot);
      ink.setLineDash(kind === "again" ? [] : [9, 5]);
      ink.strokeStyle = kind === "again" ? "#a80020" : kind === "look" ? "#7a4300" : "#33506b"; ink.lineWidth = 3; stroke(ink, x, FRAME.top, x, foot);
    }
    ink.setLineDash([]);
    const middle = Math.max(FRAME.left + 14, Math.min(right - 14, (left + end) / 2));
    ink.fillStyle = tint;
    ink.beginPath();
    if (kind === "again") ink.arc(middle, FRAME.top - 15, 14, 0, 7); else ink.rect(middle - 14, FRAME.top - 28, 28, 26);
    ink.fill();
    ink.fillStyle = colour("card");
    ink.font = `700 15px ${getComputedStyle(document.body).fontFamily}`;
    ink.textAlign = "center"; ink.textBaseline = "middle";
    ink.fillText(String(f.number), middle, FRAME.top - 14.5);
  }
}

function stroke(ink, x0, y0, x1, y1) { ink.beginPath(); ink.moveTo(x0, y0); ink.lineTo(x1, y1); ink.stroke(); }

// A sample's time is that of the middle of its cell.
export function timeShare(radargram, ns) { return ((ns - radargram.start) / radargram.step + 0.5) / radargram.columns; }

export function timeTicks(radargram) { return ticks(radargram.start, radargram.start + radargram.step * (radargram.columns - 1), 8); }

function radargramAxes(ink, state, width, height) {
  const { radargram } = data.lines[state.line], [first, last] = span(state), foot = FRAME.top + height, font = getComputedStyle(document.body).fontFamily;
  ink.fillStyle = colour("ink"); ink.strokeStyle = colour("ink"); ink.lineWidth = 1.5; ink.setLineDash([]);
  ink.font = `15px ${font}`;
  ink.strokeRect(FRAME.left - 1, FRAME.top - 1, width + 2, height + 2);
  ink.textAlign = "center"; ink.textBaseline = "alphabetic";
  const shown = data.placed ? radargram.along : radargram.numbers, low = shown[first], high = shown[last];
  for (const [value, label] of ticks(low, high, Math.max(2, width / 90))) {
    const x = xOf(state, nearestTrace(shown, value), width);
    stroke(ink, x, foot + 15, x, foot + 20);
    ink.fillText(label, x, foot + 36);
  }
  ink.textAlign = "right"; ink.textBaseline = "middle";
  for (const [value, label] of timeTicks(radargram)) {
    const y = FRAME.top + timeShare(radargram, value) * height;
    stroke(ink, FRAME.left - 7, y, FRAME.left - 1, y);
    ink.fillText(label, FRAME.left - 11, y);
  }
  ink.fillText("ns", FRAME.left - 11, FRAME.top - 14);
  ink.textAlign = "left";
  ink.fillText(data.placed ? "m" : "trace", FRAME.left + width + (data.placed ? 12 : 8), foot + 36);
  const deepest = (radargram.start + radargram.step * (radargram.columns - 1)) * data.velocity / 2;
  if (deepest > 0) {
    for (const [value, label] of ticks(0, deepest, 7)) {
      const y = FRAME.top + timeShare(radargram, 2 * value / data.velocity) * height;
      stroke(ink, FRAME.left + width + 1, y, FRAME.left + width + 7, y);
      ink.fillText(label, FRAME.left + width + 11, y);
    }
    ink.fillText("m", FRAME.left + width + 12, FRAME.top - 14);
  }
}

export function drawRadargram(state) {
  const { ink, width: wide, height: high } = sized(sheet), width = wide - FRAME.left - FRAME.right, height = high - FRAME.top - FRAME.bottom;
  if (width < 10 || height < 10) return;
  const [first, last] = span(state), { columns } = data.lines[state.line].radargram;
  ink.imageSmoothingEnabled = (last - first + 1) > width / 3;
  ink.drawImage(picture, first, 0, last - first + 1, columns, FRAME.left, FRAME.top, width, height);
  drawMarks(ink, state, width, height);
  radargramAxes(ink, state, width, height);
  const x = xOf(state, state.trace, width), y = FRAME.top + (state.sample + 0.5) / columns * height;
  for (const [tint, thick] of [["#ffffff", 5], ["#000000", 2]]) {
    ink.strokeStyle = tint; ink.lineWidth = thick;
    stroke(ink, x, FRAME.top, x, FRAME.top + height);
    stroke(ink, x - 16, y, x + 16, y);
  }
}
