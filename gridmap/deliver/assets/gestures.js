// Mouse, pen, touch and keys on the plan: move it, size it, point at it, and hand the rest to the tool in use.
import { state, change, redraw } from "./state.js";
import { view } from "./plan.js";

const SLOP = 5;
const touches = new Map();
let pressed = null; // { x, y, grabbed, moved }
let pinch = null;
let current = {};

export function useTool(tool) { current = tool; settle(); }

function settle() {
  view.canvas.style.touchAction = view.zoom > 1 || state.tool !== "look" ? "none" : "pan-y";
  view.canvas.style.cursor = current.cursor || "crosshair";
  redraw();
}

function point(x, y) { change({ pointer: view.toMap(x, y), crosshair: false }, "pointer"); }

function reach(touch) { return (touch ? 18 : 9) / view.scale; }

export function zoomBy(factor, x, y) {
  view.setZoom(view.zoom * factor, x, y);
  if (factor === 0) view.setZoom(1);
  settle();
}

function spread() {
  const [a, b] = [...touches.values()];
  return { apart: Math.hypot(a.x - b.x, a.y - b.y), x: (a.x + b.x) / 2, y: (a.y + b.y) / 2 };
}

function down(event) {
  touches.set(event.pointerId, { x: event.offsetX, y: event.offsetY });
  view.canvas.setPointerCapture(event.pointerId);
  if (touches.size === 2) { pinch = spread(); pressed = null; return; }
  if (event.button !== 0) return;
  const [e, n] = view.toMap(event.offsetX, event.offsetY);
  point(event.offsetX, event.offsetY);
  const grabbed = current.grab ? current.grab(e, n, reach(event.pointerType === "touch")) : false;
  pressed = { x: event.offsetX, y: event.offsetY, grabbed, moved: false };
}

function moved(event) {
  const held = touches.get(event.pointerId);
  if (held && touches.size === 2) {
    held.x = event.offsetX;
    held.y = event.offsetY;
    const now = spread();
    view.move(now.x - pinch.x, now.y - pinch.y);
    zoomBy(now.apart / Math.max(pinch.apart, 1), now.x, now.y);
    pinch = now;
    return;
  }
  if (!pressed) { point(event.offsetX, event.offsetY); if (current.hover) current.hover(...state.pointer); return; }
  const dx = event.offsetX - pressed.x, dy = event.offsetY - pressed.y;
  if (!pressed.moved && Math.hypot(dx, dy) < SLOP) return;
  pressed.moved = true;
  if (pressed.grabbed) {
    point(event.offsetX, event.offsetY);
    current.drag(...state.pointer);
  } else {
    view.move(dx, dy);
    Object.assign(pressed, { x: event.offsetX, y: event.offsetY });
    redraw();
  }
}

function up(event) {
  touches.delete(event.pointerId);
  if (!pressed || event.type === "pointercancel") { pressed = null; return; }
  const { grabbed, moved: wasMoved } = pressed;
  pressed = null;
  const at = view.toMap(event.offsetX, event.offsetY);
  if (grabbed && wasMoved) current.drop();
  else if (!wasMoved) { if (current.click) current.click(...at, reach(event.pointerType === "touch")); }
}

const STEPS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };

function key(event) {
  if (event.ctrlKey || event.metaKey) return;
  if (STEPS[event.key]) {
    const [dx, dy] = STEPS[event.key];
    if (event.shiftKey) { view.move(-40 * dx, -40 * dy); redraw(); } else walk(dx, dy, event.altKey ? 1 : 10);
  } else if (event.key === "+" || event.key === "=") zoomBy(1.5);
  else if (event.key === "-") zoomBy(1 / 1.5);
  else if (event.key === "0") { view.setZoom(1); settle(); }
  else if ((event.key === "Enter" || event.key === " ") && state.pointer) {
    if (current.click) current.click(...state.pointer, reach(false));
  } else if (!(current.key && current.key(event.key))) return;
  event.preventDefault();
}

// The crosshair, in pixels; the plan follows it over the edge.
function walk(dx, dy, by) {
  const frame = view.frame;
  const from = state.pointer ? view.toPixel(...state.pointer) : [frame.left + frame.width / 2, frame.top + frame.height / 2];
  let [x, y] = [from[0] + by * dx, from[1] + by * dy];
  const over = [Math.min(0, x - frame.left) + Math.max(0, x - frame.left - frame.width), Math.min(0, y - frame.top) + Math.max(0, y - frame.top - frame.height)];
  if (over[0] || over[1]) { view.move(-over[0], -over[1]); x -= over[0]; y -= over[1]; }
  change({ pointer: view.toMap(x, y), crosshair: true }, "pointer");
  if (current.hover) current.hover(...state.pointer);
}

export function listen() {
  const canvas = view.canvas;
  canvas.addEventListener("pointerdown", down);
  canvas.addEventListener("pointermove", moved);
  canvas.addEventListener("pointerup", up);
  canvas.addEventListener("pointercancel", up);
  canvas.addEventListener("pointerleave", (event) => { if (event.pointerType === "mouse" && !pressed) change({ pointer: null }, "pointer"); });
  canvas.addEventListener("wheel", (event) => {
    event.preventDefault();
    zoomBy(Math.exp(-event.deltaY / 500), event.offsetX, event.offsetY);
  }, { passive: false });
  canvas.addEventListener("dblclick", (event) => {
    if (current.finish) current.finish();
    else { view.centre(...view.toMap(event.offsetX, event.offsetY)); zoomBy(2); }
  });
  canvas.addEventListener("keydown", key);
  new ResizeObserver(redraw).observe(canvas);
  settle();
}
