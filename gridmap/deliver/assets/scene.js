// The view in three dimensions: slice, surface of equal strength, pipes, areas, ground, labels.
import { data } from "./data.js";
import { el, shortened } from "./dom.js";
import { state, on, change, redraw } from "./state.js";
import { all, isShown, nameOf, statusOf } from "./features.js";
import { paintedSlice } from "./plan.js";
import { STATUS, FACE, fresh, label, themed } from "./ink.js";
import { project } from "./matrix.js";
import { normalsOf, surfaceNets } from "./surface.js";
import { at, deepest, depthOfSlice, fieldPlace, isLevel, stackOfDepths, strengthField, stretch } from "./space.js";
import { body, frameLines, groundLines, prism, sheet, spine, tube, walkedLines } from "./solids.js";
import { startGl } from "./gl.js";
import { eye, home, listenOrbit, nearer, seenBy } from "./orbit.js";

let card = null, tried = false;
const held = { sheet: null, surface: null, things: [], fixed: null };
const key = { sheet: "", surface: "", things: "", fixed: "" };
const shown3d = { slice: true, surface: true, level: 6 };
let strength = null;

function rgb(hex, alpha = 1) { return [1, 3, 5].map((k) => parseInt(hex.slice(k, k + 2), 16) / 255).concat(alpha); }

function loadSheet() {
  const now = [state.stack, state.slice, state.together, state.table, state.perSlice, stretch.up].join("/");
  if (key.sheet === now) return;
  card.drop(held.sheet);
  card.picture(paintedSlice());
  const last = Math.min(data.stacks[state.stack].windows.length - 1, state.slice + state.together - 1);
  held.sheet = card.load(sheet(state.stack, (depthOfSlice(state.stack, state.slice) + depthOfSlice(state.stack, last)) / 2));
  key.sheet = now;
}

function loadSurface() {
  const now = `${shown3d.level}/${stretch.up}`;
  if (key.surface === now || !shown3d.surface) return;
  const f = data.radargrams ? data.radargrams.frequency : 400;
  strength = strength || strengthField(Math.max(0.25, 500 * data.velocity.v[0] / f));
  const net = surfaceNets(strength.field, strength.dims, shown3d.level), places = new Float32Array(net.positions.length);
  for (let k = 0; k < places.length; k += 3) places.set(fieldPlace(strength, net.positions[k], net.positions[k + 1], net.positions[k + 2]), k);
  card.drop(held.surface);
  held.surface = card.load({ positions: places, indices: net.indices, normals: normalsOf(places, net.indices) });
  key.surface = now;
}

function shapeOf(feature) {
  if (feature.closed) return prism(feature);
  return feature.path.length > 1 ? tube(feature) : body(feature);
}

function loadThings() {
  const rows = all.features.filter((f) => isShown(f) && f.columns.depth_top_m !== undefined);
  const now = JSON.stringify([rows.map((f) => [f.key, f.path, statusOf(f), f.columns.depth_top_m]), stretch.up]);
  if (key.things === now) return;
  for (const thing of held.things) card.drop(thing.item);
  held.things = rows.map((feature) => ({ feature, item: card.load(shapeOf(feature)) }));
  key.things = now;
}

function loadFixed() {
  const now = `${stretch.up}/${state.shown.lines}`;
  if (key.fixed === now) return;
  for (const item of held.fixed || []) card.drop(item.item);
  held.fixed = [
    { item: card.load(frameLines(), { lines: true }), colour: "soft" },
    { item: card.load(groundLines(), { lines: true }), colour: "rule" },
    ...(state.shown.lines ? [{ item: card.load(walkedLines(), { lines: true }), colour: "soft" }] : []),
  ];
  key.fixed = now;
}

function drawLabels(seen) {
  const canvas = el("scene-words"), ink = fresh(canvas), colours = themed(), size = [canvas.clientWidth, canvas.clientHeight];
  for (const { feature } of held.things) {
    const places = feature.path.length > 1 && !feature.closed ? spine(feature) : [at(...feature.path[0], feature.columns.depth_top_m)];
    const spot = project(seen, places[Math.floor((places.length - 1) / 2)], ...size);
    if (spot) label(ink, shortened(nameOf(feature), 28), spot[0] + 8, spot[1] - 10);
  }
  ink.font = `13px ${FACE}`;
  ink.fillStyle = colours.ink;
  ink.textAlign = "center";
  const [west, south, east, north] = data.raster.bounds, reach = 0.08 * (north - south);
  const n = project(seen, at((west + east) / 2, north + reach, 0), ...size), foot = project(seen, at((west + east) / 2, north + 0.2 * reach, 0), ...size);
  if (n && foot) {
    ink.strokeStyle = colours.ink;
    ink.lineWidth = 2;
    ink.beginPath();
    ink.moveTo(...foot);
    ink.lineTo(...n);
    ink.stroke();
    ink.fillText(data.mapped ? "N" : "y", n[0], n[1] - 10);
  }
  const corner = data.outline[0] || [west, south];
  ink.textAlign = "right";
  for (let k = 0, below = -Infinity; k <= 4; k += 1) {
    const depth = k / 4 * deepest, spot = project(seen, at(...corner, depth, isLevel(stackOfDepths) && k > 0), ...size);
    if (!spot || spot[1] - below < 17) continue;
    below = spot[1];
    ink.fillText(`${depth.toFixed(1)} m`, spot[0] - 6, spot[1]);
  }
}

function drawScene() {
  if (state.view !== "scene" || !card) return;
  const canvas = el("scene"), ratio = Math.min(2, window.devicePixelRatio || 1), colours = themed();
  const width = Math.round(canvas.clientWidth * ratio), height = Math.round(canvas.clientHeight * ratio);
  if (canvas.width !== width || canvas.height !== height) { canvas.width = width; canvas.height = height; }
  loadSheet();
  loadSurface();
  loadThings();
  loadFixed();
  const seen = seenBy(width / height);
  card.clear(width, height, rgb(colours.card));
  for (const { item, colour } of held.fixed) if (item.count) card.draw(item, seen, rgb(colours[colour]));
  for (const { feature, item } of held.things) card.draw(item, seen, rgb(feature === state.selected ? "#ffffff" : STATUS[statusOf(feature)] || STATUS.found));
  if (shown3d.surface && held.surface && held.surface.count) card.draw(held.surface, seen, rgb("#d8a548"));
  if (shown3d.slice && held.sheet) card.draw(held.sheet, seen, [1, 1, 1, 0.8 * state.opacity], { textured: true });
  drawLabels(seen);
  el("scene").dataset.triangles = String(held.surface ? held.surface.count / 3 : 0);
}

export function setView(name) {
  if (name === "scene" && !tried) {
    tried = true;
    card = startGl(el("scene"));
    if (card) { listenOrbit(el("scene")); home(); }
  }
  el("scene-none").hidden = name !== "scene" || card !== null;
  el("plan-sheet").hidden = name === "scene";
  el("scene-sheet").hidden = name !== "scene";
  el("tools").hidden = name === "scene";
  for (const press of document.querySelectorAll("[data-view]")) press.setAttribute("aria-pressed", String(press.dataset.view === name));
  change({ view: name });
}

export function startScene() {
  for (const press of document.querySelectorAll("[data-view]")) press.addEventListener("click", () => setView(press.dataset.view));
  el("scene-above").addEventListener("click", () => home(0, 1.5706));
  el("scene-south").addEventListener("click", () => home(0, 0.12));
  el("scene-home").addEventListener("click", () => home());
  el("scene-near").addEventListener("click", () => nearer(1.3));
  el("scene-far").addEventListener("click", () => nearer(1 / 1.3));
  el("scene-slice").addEventListener("change", () => { shown3d.slice = el("scene-slice").checked; redraw(); });
  el("scene-surface").addEventListener("change", () => { shown3d.surface = el("scene-surface").checked; redraw(); });
  el("scene-level").addEventListener("input", () => {
    shown3d.level = Number(el("scene-level").value);
    el("scene-level-words").textContent = `${shown3d.level} times the usual`;
    redraw();
  });
  el("scene-up").addEventListener("input", () => {
    const share = eye.target[2] / stretch.up;
    stretch.up = Number(el("scene-up").value);
    eye.target[2] = share * stretch.up;
    el("scene-up-words").textContent = stretch.up === 1 ? "true to scale" : `heights ${stretch.up} times`;
    redraw();
  });
  new ResizeObserver(redraw).observe(el("scene"));
  on("draw", drawScene);
}

