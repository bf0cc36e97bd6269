// The eye that goes round the scene: by mouse, touch, keys and buttons.
import { redraw } from "./state.js";
import { lookAt, multiply, perspective } from "./matrix.js";
import { deepest, half, stretch } from "./space.js";

const ANGLE = 0.7;
export const eye = { turn: -0.6, lift: 0.75, away: 1, target: [0, 0, 0] };

export function home(turn = -0.6, lift = 0.75) {
  Object.assign(eye, { turn, lift, away: 0.86 * half / Math.tan(ANGLE / 2), target: [0, 0, -0.5 * stretch.up * deepest] });
  redraw();
}

export function seenBy(aspect) {
  const { turn, lift, away, target } = eye, flat = Math.cos(lift) * away;
  const from = [target[0] + flat * Math.sin(turn), target[1] - flat * Math.cos(turn), target[2] + Math.sin(lift) * away];
  const far = away + 6 * (half + deepest * stretch.up), narrow = aspect < 1 ? 2 * Math.atan(Math.tan(ANGLE / 2) / aspect) : ANGLE;
  const up = lift > 1.55 ? [-Math.sin(turn), Math.cos(turn), 0] : [0, 0, 1];
  return multiply(perspective(narrow, aspect, far / 4000, far), lookAt(from, target, up));
}

export function turnBy(dx, dy) {
  eye.turn -= dx;
  eye.lift = Math.min(1.5706, Math.max(-0.6, eye.lift + dy));
  redraw();
}

export function nearer(factor) {
  eye.away = Math.min(12 * half, Math.max(0.02 * half, eye.away / factor));
  redraw();
}

// Along the ground, by shares of what is seen.
export function slide(dx, dy) {
  const { turn, away } = eye, s = away * Math.tan(ANGLE / 2) * 2;
  eye.target[0] += s * (-dx * Math.cos(turn) - dy * Math.sin(turn) * -1);
  eye.target[1] += s * (-dx * Math.sin(turn) + dy * Math.cos(turn));
  redraw();
}

export function listenOrbit(canvas) {
  const touches = new Map();
  let pinch = null;
  const spread = () => {
    const [a, b] = [...touches.values()];
    return { apart: Math.hypot(a.x - b.x, a.y - b.y), x: (a.x + b.x) / 2, y: (a.y + b.y) / 2 };
  };
  canvas.addEventListener("pointerdown", (event) => {
    touches.set(event.pointerId, { x: event.offsetX, y: event.offsetY });
    canvas.setPointerCapture(event.pointerId);
    if (touches.size === 2) pinch = spread();
  });
  canvas.addEventListener("pointermove", (event) => {
    const held = touches.get(event.pointerId);
    if (!held) return;
    const dx = event.offsetX - held.x, dy = event.offsetY - held.y, height = canvas.clientHeight;
    Object.assign(held, { x: event.offsetX, y: event.offsetY });
    if (touches.size === 2) {
      const now = spread();
      nearer(now.apart / Math.max(1, pinch.apart));
      slide((now.x - pinch.x) / height, (now.y - pinch.y) / height);
      pinch = now;
    } else if (event.shiftKey || event.buttons & 2) slide(dx / height, dy / height);
    else turnBy(4 * dx / height, 3 * dy / height);
  });
  for (const name of ["pointerup", "pointercancel"]) canvas.addEventListener(name, (event) => touches.delete(event.pointerId));
  canvas.addEventListener("contextmenu", (event) => event.preventDefault());
  canvas.addEventListener("wheel", (event) => { event.preventDefault(); nearer(Math.exp(-event.deltaY / 600)); }, { passive: false });
  canvas.addEventListener("keydown", (event) => {
    const step = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] }[event.key];
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    if (step && event.shiftKey) slide(-0.06 * step[0], 0.06 * step[1]);
    else if (step) turnBy(-0.12 * step[0], 0.1 * step[1]);
    else if (event.key === "+" || event.key === "=") nearer(1.25);
    else if (event.key === "-") nearer(0.8);
    else if (event.key === "0") home();
    else return;
    event.preventDefault();
  });
}
