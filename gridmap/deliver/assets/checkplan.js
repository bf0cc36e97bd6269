// The plan: lines as walked, what is wrong along them in colour, pattern and number, and the line under the finger.
import { CLASS, data, draw, el, ticks } from "./checkdata.js";

const MARGIN = { left: 50, right: 26, top: 20, bottom: 34 };
const BADGE = 15;
const plan = el("plan");
let toScreen = null, paths = [];

function fit() {
  const box = plan.getBoundingClientRect(), [west, south, east, north] = data.bounds;
  const names = data.placed || data.lines.length > 40 ? 0 : 50;
  const width = Math.max(50, box.width - MARGIN.left - MARGIN.right - names), height = Math.max(50, box.height - MARGIN.top - MARGIN.bottom);
  const scale = Math.min(width / Math.max(east - west, 0.5), height / Math.max(north - south, 0.5));
  const left = MARGIN.left + names + (width - scale * (east - west)) / 2, base = MARGIN.top + (height + scale * (north - south)) / 2;
  toScreen = ([x, y]) => [left + scale * (x - west), base - scale * (y - south)];
  return { box, scale, left, base };
}

function pathText(points) { return points.map((p, k) => `${k ? "L" : "M"}${p[0].toFixed(1)} ${p[1].toFixed(1)}`).join(""); }

// The part of a line from one distance to another, at least a few pixels long so that it can be seen.
function part(line, from, to, scale) {
  const { path, along } = line, last = along[along.length - 1];
  const least = Math.min(last, 7 / scale), middle = (from + to) / 2;
  let low = Math.max(0, from), high = Math.min(last, to);
  if (high - low < least) { low = Math.max(0, Math.min(last - least, middle - least / 2)); high = Math.min(last, low + least); }
  const at = (distance) => {
    let k = 1;
    while (k < along.length - 1 && along[k] < distance) k += 1;
    const share = along[k] > along[k - 1] ? (distance - along[k - 1]) / (along[k] - along[k - 1]) : 0;
    return [0, 1].map((c) => path[k - 1][c] + share * (path[k][c] - path[k - 1][c]));
  };
  const inner = path.filter((_, k) => along[k] > low && along[k] < high);
  return { points: [at(low), ...inner, at(high)].map(toScreen), middle: toScreen(at((low + high) / 2)), pixels: (high - low) * scale, across: Math.abs(toScreen(at(high))[0] - toScreen(at(low))[0]) > Math.abs(toScreen(at(high))[1] - toScreen(at(low))[1]) };
}

export function bandStyle(kind, wide) {
  if (kind === "again") return [{ "stroke-width": wide }, { "stroke-width": Math.max(1.5, wide * 0.34), "stroke-dasharray": "4 4" }];
  if (kind === "look") return [{ "stroke-width": wide, "stroke-dasharray": "8 4" }];
  return [{ "stroke-width": Math.max(3, wide * 0.6), "stroke-dasharray": "2 4" }];
}

function bands(group, kind, d, wide) {
  bandStyle(kind, wide).forEach((style, k) => draw("path", group, { d, class: `band ${kind}${k ? " core" : ""}`, ...style }));
}

// Beside a short stretch, so that it stays seen: to the right of one that runs up the plan, above one that runs across.
function badgeAt(middle, placed, box, beside, across) {
  const near = across ? [[0, -1], [0, 1], [1, 0], [-1, 0]] : [[1, 0], [-1, 0], [0, -1], [0, 1]];
  for (const [dx, dy] of [...(beside ? [] : [[0, 0]]), ...near, [1, -1], [-1, 1], [1, 1], [-1, -1], [2, 0], [-2, 0], [0, -2], [0, 2]]) {
    const x = middle[0] + 2.3 * BADGE * dx, y = middle[1] + 2.3 * BADGE * dy;
    const inside = x > BADGE && y > BADGE && x < box.width - BADGE && y < box.height - BADGE;
    if (inside && placed.every(([a, b]) => Math.hypot(a - x, b - y) > 2.15 * BADGE)) { placed.push([x, y]); return [x, y]; }
  }
  return null;
}

export function drawBadge(parent, kind, label, x, y) {
  const group = draw("g", parent, { class: `badge ${kind}`, transform: `translate(${x.toFixed(1)} ${y.toFixed(1)})` });
  if (kind === "again") draw("circle", group, { r: BADGE });
  else draw("rect", group, { x: -BADGE, y: -BADGE + 2, width: 2 * BADGE, height: 2 * BADGE - 4, rx: 3 });
  draw("text", group, { y: 1 }, label);
}

function axes(scale, box) {
  const [west, south, east, north] = data.bounds, group = draw("g", plan, {});
  const [x0, y0] = toScreen([west, south]), [x1, y1] = toScreen([east, north]);
  for (const [value, label] of ticks(west, east, Math.max(2, (x1 - x0) / 70))) {
    const [x] = toScreen([value, south]);
    draw("line", group, { class: "grid", x1: x, x2: x, y1: y0 + 6, y2: y1 - 6 });
    draw("text", group, { x, y: y0 + 24, "text-anchor": "middle" }, label);
  }
  for (const [value, label] of ticks(south, north, Math.max(2, (y0 - y1) / 55))) {
    const [, y] = toScreen([west, value]);
    draw("line", group, { class: "grid", x1: x0 - 6, x2: x1 + 6, y1: y, y2: y });
    draw("text", group, { x: x0 - 12, y: y + 5, "text-anchor": "end" }, label);
  }
  draw("text", group, { x: Math.min(x1 + 20, box.width - 14), y: y0 + 24, "text-anchor": "middle" }, "m");
}

// Severities from the mildest up, so that the worst lies on top; badges in the order of the list.
export function drawPlan(chosen) {
  plan.textContent = "";
  const { box, scale } = fit();
  if (data.placed) axes(scale, box);
  paths = data.lines.map((line) => line.path.map(toScreen));
  const lines = draw("g", plan, {}), thin = Math.max(0.6, Math.min(1.8, 0.13 * data.spacing * scale)).toFixed(2);
  paths.forEach((points, k) => {
    draw("path", lines, { d: pathText(points), class: k === chosen ? "chosen" : "walked", "stroke-width": k === chosen ? 5 : thin });
    if (paths.length <= 60 || k === chosen) draw("circle", lines, { class: "start", cx: points[0][0].toFixed(1), cy: points[0][1].toFixed(1), r: k === chosen ? 7 : 3.5 });
    if (!data.placed && paths.length <= 40) draw("text", lines, { x: points[0][0] - 12, y: points[0][1] + 5, "text-anchor": "end" }, data.lines[k].name.slice(0, 9));
  });
  const wide = Math.max(6, Math.min(13, 0.9 * data.spacing * scale)), placed = [], group = draw("g", plan, {});
  const shown = data.findings.filter((f) => f.line >= 0 && f.severity !== "note");
  for (const f of [...shown].reverse()) {
    const line = data.lines[f.line], whole = f.from === null;
    f.drawn = part(line, whole ? 0 : f.from, whole ? line.length : f.to, scale);
    bands(group, CLASS[f.severity], pathText(f.drawn.points), wide);
  }
  const badges = draw("g", plan, {});
  for (const f of shown) mark(badges, f, f.drawn.middle, placed, box);
  for (const f of data.findings) if (f.xy) mark(badges, f, toScreen(f.xy), placed, box, true);
}

function mark(group, f, middle, placed, box, post = false) {
  if (placed.length >= 40) return;
  if (post) draw("path", group, { d: `M${middle[0]} ${middle[1] - 11}l10 18h-20z`, class: `band ${CLASS[f.severity]}`, "stroke-width": 3 });
  const at = badgeAt(middle, placed, box, post || f.drawn.pixels < 4 * BADGE, !post && f.drawn.across);
  if (at === null) return;
  if (Math.hypot(at[0] - middle[0], at[1] - middle[1]) > BADGE) {
    draw("line", group, { class: "leader", x1: middle[0], y1: middle[1], x2: at[0], y2: at[1] });
  }
  drawBadge(group, CLASS[f.severity], String(f.number), ...at);
}

function distance([x, y], points) {
  let least = Infinity;
  for (let k = 1; k < points.length || k === 1; k += 1) {
    const a = points[k - 1], b = points[Math.min(k, points.length - 1)], dx = b[0] - a[0], dy = b[1] - a[1];
    const share = Math.max(0, Math.min(1, ((x - a[0]) * dx + (y - a[1]) * dy) / (dx * dx + dy * dy || 1)));
    least = Math.min(least, Math.hypot(x - a[0] - share * dx, y - a[1] - share * dy));
    if (points.length < 2) break;
  }
  return least;
}

export function nearestLine(x, y) {
  let best = -1, least = 60;
  paths.forEach((points, k) => { const d = distance([x, y], points); if (d < least) { least = d; best = k; } });
  return best;
}

// The line's name beside the finger, where the hand does not hide it.
export function callout(index, x, y) {
  plan.querySelector(".callout")?.remove();
  if (index < 0) return;
  const box = plan.getBoundingClientRect(), name = data.lines[index].name.slice(0, 24);
  const group = draw("g", plan, { class: "callout" }), wide = 34 + 12 * name.length;
  const cx = Math.max(wide / 2 + 4, Math.min(box.width - wide / 2 - 4, x)), cy = y > 90 ? y - 64 : y + 70;
  draw("path", group, { d: pathText(paths[index]), class: "chosen", "stroke-width": 5 });
  draw("rect", group, { x: cx - wide / 2, y: cy - 24, width: wide, height: 48, rx: 10 });
  draw("text", group, { x: cx, y: cy }, name);
}

export function startPlan(choose, open) {
  let pressed = false;
  const at = (event) => { const box = plan.getBoundingClientRect(); return [event.clientX - box.left, event.clientY - box.top]; };
  plan.addEventListener("pointerdown", (event) => {
    if (event.button) return;
    pressed = true;
    plan.setPointerCapture(event.pointerId);
    const [x, y] = at(event);
    callout(nearestLine(x, y), x, y);
  });
  plan.addEventListener("pointermove", (event) => { if (pressed) { const [x, y] = at(event); callout(nearestLine(x, y), x, y); } });
  plan.addEventListener("pointercancel", () => { pressed = false; callout(-1); });
  plan.addEventListener("pointerup", (event) => {
    if (!pressed) return;
    pressed = false;
    const [x, y] = at(event), line = nearestLine(x, y);
    callout(-1);
    if (line >= 0) { choose(line); open(line); }
  });
}

export function startLegend() {
  for (const [severity, words] of [["walk again", "walk again"], ["attention", "look at"]]) {
    const entry = document.createElement("span"), svg = draw("svg", entry, { viewBox: "0 0 46 14", "aria-hidden": "true" });
    bands(svg, CLASS[severity], "M1 7H45", 10);
    entry.append(words);
    el("legend").append(entry);
  }
  const numbers = document.createElement("span");
  numbers.textContent = data.placed ? "Numbers as in the list; a dot is where a line starts." : "Places are not known: lines are drawn side by side.";
  el("legend").append(numbers);
}

