// The vertical section: which one is open, where its cursor stands, and how it is drawn.
import { data } from "./data.js";
import { el } from "./dom.js";
import { state, redraw } from "./state.js";
import { depthAt, timeAt } from "./velocity.js";
import { signedShades, sliceShades, tables } from "./shade.js";
import { decimals, roundStep } from "./furniture.js";
import { HALO, STATUS, FACE, fresh, label, spot, stroke, themed } from "./ink.js";
import { nameOf, statusOf } from "./features.js";
import { marksOn } from "./crossing.js";
import { curve, curveTime } from "./hyperbola.js";
import { envelopeOf } from "./radargrams.js";

export const section = { open: false, index: -1, gram: null, line: null, name: "", along: null, down: null, gain: 2, envelope: false };
export const gauge = { on: false, from: null, to: null }; // a measured span: [along, down] each
const picture = { canvas: document.createElement("canvas"), key: null };
const EDGE = { left: 54, right: 150, top: 26, bottom: 8 };
const TRACE = 92;
const grey = data.tables.findIndex((table) => table.name === "grey");

export function plot() {
  const canvas = el("section");
  return { left: EDGE.left, top: EDGE.top, width: Math.max(40, canvas.clientWidth - EDGE.left - EDGE.right), height: Math.max(40, canvas.clientHeight - EDGE.top - EDGE.bottom) };
}

// `down` is the axis of the section: two-way time of a radargram, depth of a cut.
export function ends() {
  const { gram } = section, half = gram.kind === "time" ? 0 : (gram.to - gram.from) / (gram.samples - 1) / 2;
  return {
    first: gram.first, last: gram.first + (gram.traces - 1) * gram.step,
    top: gram.kind === "time" ? 0 : gram.from - half, base: gram.kind === "time" ? (gram.samples - 1) * gram.ns : gram.to + half,
  };
}

export function toScreen(along, down) {
  const box = plot(), e = ends();
  return [box.left + (along - e.first) / (e.last - e.first) * box.width, box.top + (down - e.top) / (e.base - e.top) * box.height];
}

export function fromScreen(x, y) {
  const box = plot(), e = ends();
  return [
    e.first + Math.min(1, Math.max(0, (x - box.left) / box.width)) * (e.last - e.first),
    e.top + Math.min(1, Math.max(0, (y - box.top) / box.height)) * (e.base - e.top),
  ];
}

export function depthOfDown(down) { return section.gram.kind === "time" ? depthAt(down) : down; }
export function downOfDepth(depth) { return section.gram.kind === "time" ? timeAt(depth) : depth; }

function paint() {
  const { gram, gain, envelope } = section, key = [gram, gain, envelope, state.table];
  if (picture.key && picture.key.every((part, k) => part === key[k])) return;
  picture.key = key;
  const { traces, samples } = gram, time = gram.kind === "time";
  const cells = time && envelope ? envelopeOf(gram) : gram.cells;
  const shades = !time ? sliceShades(tables[state.table], 1, 255) : envelope ? halfShades(gain) : signedShades(tables[grey], gain);
  picture.canvas.width = traces;
  picture.canvas.height = samples;
  const ink = picture.canvas.getContext("2d"), image = ink.createImageData(traces, samples), out = new Uint32Array(image.data.buffer);
  for (let i = 0; i < traces; i += 1) for (let j = 0; j < samples; j += 1) out[j * traces + i] = shades[cells[i * samples + j]];
  ink.putImageData(image, 0, 0);
}

// An envelope takes the slices' table from nought up.
function halfShades(gain) {
  const shades = new Uint32Array(256), whole = sliceShades(tables[state.table], 1, 255);
  for (let b = 1; b < 256; b += 1) {
    const t = Math.min(1, Math.max(0, gain * (b - 128) / 127));
    shades[b] = whole[1 + Math.round(254 * Math.sqrt(t))];
  }
  return shades;
}

function axes(ink, box, e, colours) {
  ink.font = `12px ${FACE}`;
  ink.fillStyle = colours.soft;
  ink.strokeStyle = colours.soft;
  ink.lineWidth = 1;
  const tick = (x, y, dx, dy, text, align) => {
    ink.beginPath();
    ink.moveTo(x, y);
    ink.lineTo(x + dx, y + dy);
    ink.stroke();
    ink.textAlign = align;
    ink.fillText(text, x + 2 * dx, y + 1.8 * dy);
  };
  ink.textBaseline = "middle";
  const acrossStep = roundStep(e.last - e.first, Math.max(2, box.width / 80));
  for (let k = Math.ceil(e.first / acrossStep); k * acrossStep <= e.last + 1e-9; k += 1) {
    tick(toScreen(k * acrossStep, e.top)[0], box.top, 0, -5, withUnit(k * acrossStep, acrossStep, "m", 0), "center");
  }
  const time = section.gram.kind === "time", nsTop = time ? e.top : timeAt(Math.max(0, e.top)), nsBase = time ? e.base : timeAt(e.base);
  const nsStep = roundStep(nsBase - nsTop, Math.max(2, box.height / 34));
  for (let k = Math.ceil(nsTop / nsStep); k * nsStep <= nsBase; k += 1) {
    tick(box.left, toScreen(0, time ? k * nsStep : depthAt(k * nsStep))[1], -5, 0, withUnit(k * nsStep, nsStep, "ns", 0), "right");
  }
  const deepest = depthOfDown(e.base), depthStep = roundStep(deepest, Math.max(2, box.height / 34));
  for (let k = 0; k * depthStep <= deepest; k += 1) {
    const down = downOfDepth(k * depthStep);
    if (down >= e.top) tick(box.left + box.width, toScreen(0, down)[1], 5, 0, withUnit(k * depthStep, depthStep, "m", 1), "left");
  }
}

// The first tick of an axis, at nought, carries the unit.
function withUnit(value, step, unit, least) {
  return value.toFixed(Math.max(least, decimals(step))) + (Math.abs(value) < 1e-9 ? ` ${unit}` : "");
}

function band(ink, box) {
  const windows = data.stacks[state.stack].windows, a = windows[state.slice], b = windows[Math.min(windows.length - 1, state.slice + state.together - 1)];
  if (a.axis === "elevation") return;
  const y0 = toScreen(0, downOfDepth(a.top))[1], y1 = toScreen(0, downOfDepth(b.base))[1];
  ink.fillStyle = "rgba(255, 210, 63, 0.16)";
  ink.fillRect(box.left, y0, box.width, y1 - y0);
  ink.fillStyle = "rgba(255, 210, 63, 0.9)";
  for (const y of [y0, y1]) ink.fillRect(box.left, y - 0.5, box.width, 1);
}

function marks(ink) {
  for (const { feature, from, to, depth, sigma } of marksOn(section.line)) {
    const [x0, y] = toScreen(from, downOfDepth(depth)), [x1] = toScreen(to, downOfDepth(depth));
    const colour = STATUS[statusOf(feature)] || STATUS.found, high = toScreen(0, downOfDepth(Math.max(0, depth - sigma)))[1], low = toScreen(0, downOfDepth(depth + sigma))[1];
    for (const [ink_, width] of [[HALO, 5], [colour, 2.5]]) {
      ink.strokeStyle = ink_;
      ink.lineWidth = width;
      ink.beginPath();
      if (from === to) { ink.moveTo(x0 - 9, y); ink.lineTo(x0 + 9, y); } else { ink.moveTo(x0, y); ink.lineTo(x1, y); }
      ink.moveTo((x0 + x1) / 2, high);
      ink.lineTo((x0 + x1) / 2, low);
      ink.stroke();
    }
    label(ink, nameOf(feature).slice(0, 20), x1 + 12, y);
  }
}

function hyperbola(ink, box) {
  if (!curve.on || curve.along === null || section.gram.kind !== "time") return;
  const e = ends();
  for (const [colour, width] of [[HALO, 5], ["#ffd23f", 2.2]]) {
    ink.strokeStyle = colour;
    ink.lineWidth = width;
    ink.beginPath();
    for (let px = 0, pen = false; px <= box.width; px += 2) {
      const along = e.first + px / box.width * (e.last - e.first), ns = curveTime(along - curve.along);
      if (ns > e.base) { pen = false; continue; }
      const [x, y] = toScreen(along, ns);
      if (pen) ink.lineTo(x, y); else ink.moveTo(x, y);
      pen = true;
    }
    ink.stroke();
  }
  const [x, y] = toScreen(curve.along, curve.ns);
  ink.fillStyle = "#ffd23f";
  ink.strokeStyle = HALO;
  ink.beginPath();
  ink.arc(x, y, 7, 0, 2 * Math.PI);
  ink.fill();
  ink.stroke();
}

function measured(ink) {
  if (!gauge.on || !gauge.from) return;
  const a = toScreen(...gauge.from), b = toScreen(...(gauge.to || [section.along, section.down ?? gauge.from[1]]));
  stroke(ink, [a, b], "#ffffff", 2);
  for (const p of [a, b]) spot(ink, p, "#ffffff", 3.5, true);
}

// The trace at the cursor, beside the section.
function wiggle(ink, box, colours) {
  const { gram } = section, x0 = box.left + box.width + EDGE.right - TRACE + 2, middle = x0 + TRACE / 2 - 6;
  if (section.along === null) return;
  const i = Math.round((section.along - gram.first) / gram.step), at = Math.min(gram.traces - 1, Math.max(0, i)) * gram.samples;
  const time = gram.kind === "time";
  ink.strokeStyle = colours.rule;
  ink.beginPath();
  ink.moveTo(time ? middle : x0, box.top);
  ink.lineTo(time ? middle : x0, box.top + box.height);
  ink.stroke();
  ink.strokeStyle = colours.ink;
  ink.lineWidth = 1.3;
  ink.beginPath();
  for (let j = 0; j < gram.samples; j += 1) {
    const byte = gram.cells[at + j], y = box.top + (time ? j / (gram.samples - 1) : (j + 0.5) / gram.samples) * box.height;
    if (!byte) continue;
    const off = time ? Math.min(1, Math.max(-1, section.gain * (byte - 128) / 127)) * (TRACE / 2 - 8) : ((byte - 1) / 254) ** 2 * (TRACE - 16);
    ink.lineTo((time ? middle : x0) + off, y);
  }
  ink.stroke();
}

export function drawSection() {
  if (!section.open || !section.gram) return;
  paint();
  const canvas = el("section"), ink = fresh(canvas), colours = themed(), box = plot(), e = ends();
  ink.save();
  ink.beginPath();
  ink.rect(box.left, box.top, box.width, box.height);
  ink.clip();
  ink.fillStyle = colours.hatch;
  ink.fillRect(box.left, box.top, box.width, box.height);
  ink.imageSmoothingEnabled = true;
  ink.drawImage(picture.canvas, box.left, box.top, box.width, box.height);
  band(ink, box);
  marks(ink);
  hyperbola(ink, box);
  measured(ink);
  if (section.along !== null) {
    const [x] = toScreen(section.along, e.top);
    ink.fillStyle = "rgba(255,255,255,0.9)";
    ink.fillRect(x - 1, box.top, 2, box.height);
    ink.fillStyle = HALO;
    ink.fillRect(x - 0.5, box.top, 1, box.height);
  }
  if (section.down !== null) {
    const y = toScreen(0, section.down)[1];
    ink.fillStyle = "rgba(255,255,255,0.7)";
    ink.fillRect(box.left, y - 0.5, box.width, 1);
  }
  ink.restore();
  axes(ink, box, e, colours);
  wiggle(ink, box, colours);
}

export function moveCursor(along, down) {
  section.along = along;
  section.down = down;
  redraw();
}
