// Colours of the page's theme for canvases, and strokes that stand out on any slice.

export const HALO = "#10181c";
export const STATUS = { found: "#ff5a36", accepted: "#3ddc97", drawn: "#ff9ff0", rejected: "#c9c9c9" };
export const MARK = { found: "", accepted: " \u2713", drawn: " \u270e", rejected: " \u00d7" };
export const DASH = { found: [], accepted: [], drawn: [10, 5], rejected: [2, 5] };
export const FACE = "system-ui, 'Segoe UI', Roboto, 'DejaVu Sans', sans-serif";

let held = null;

export function themed() {
  if (held && held.of === document.documentElement.dataset.theme) return held;
  const style = getComputedStyle(document.documentElement);
  const get = (name) => style.getPropertyValue(`--${name}`).trim();
  held = {
    of: document.documentElement.dataset.theme,
    ink: get("ink"), soft: get("soft"), card: get("card"), rule: get("rule"), accent: get("accent"), hatch: get("hatch"),
    stroke: get("hatch-line"), edge: get("edge"),
  };
  return held;
}

// A canvas as sharp as the screen, cleared; its ink counts in CSS pixels.
export function fresh(canvas) {
  const ratio = window.devicePixelRatio || 1;
  const width = Math.round(canvas.clientWidth * ratio), height = Math.round(canvas.clientHeight * ratio);
  if (canvas.width !== width || canvas.height !== height) { canvas.width = width; canvas.height = height; }
  const ink = canvas.getContext("2d");
  ink.setTransform(ratio, 0, 0, ratio, 0, 0);
  ink.clearRect(0, 0, canvas.clientWidth, canvas.clientHeight);
  ink.font = `14px ${FACE}`;
  return ink;
}

export function trace(ink, points, close) {
  ink.beginPath();
  points.forEach(([x, y], k) => { if (k) ink.lineTo(x, y); else ink.moveTo(x, y); });
  if (close) ink.closePath();
}

export function stroke(ink, points, colour, width, close = false, dash = []) {
  if (points.length < 2) return;
  trace(ink, points, close);
  ink.setLineDash([]);
  ink.lineJoin = "round";
  ink.strokeStyle = HALO;
  ink.lineWidth = width + 2.5;
  ink.stroke();
  ink.setLineDash(dash);
  ink.strokeStyle = colour;
  ink.lineWidth = width;
  ink.stroke();
  ink.setLineDash([]);
}

export function spot(ink, [x, y], colour, radius, filled = false) {
  ink.beginPath();
  ink.arc(x, y, radius, 0, 2 * Math.PI);
  ink.strokeStyle = HALO;
  ink.lineWidth = 5;
  ink.stroke();
  ink.strokeStyle = colour;
  ink.lineWidth = 2.5;
  ink.stroke();
  if (filled) { ink.fillStyle = colour; ink.fill(); }
}

// Text in a pale halo, so that it reads on dark and on bright cells.
export function label(ink, text, x, y, align = "left") {
  ink.textAlign = align;
  ink.textBaseline = "middle";
  ink.strokeStyle = "rgba(255,255,255,0.94)";
  ink.lineWidth = 4;
  ink.lineJoin = "round";
  ink.strokeText(text, x, y);
  ink.fillStyle = "#1d2a2f";
  ink.fillText(text, x, y);
}

// Words in a small plate in the theme's colours.
export function plate(ink, text, x, y, colours, align = "left") {
  const width = ink.measureText(text).width + 12;
  const left = align === "center" ? x - width / 2 : align === "right" ? x - width : x;
  ink.fillStyle = colours.card;
  ink.strokeStyle = colours.rule;
  ink.lineWidth = 1;
  ink.beginPath();
  ink.roundRect(left, y - 12, width, 24, 4);
  ink.fill();
  ink.stroke();
  ink.fillStyle = colours.ink;
  ink.textAlign = "left";
  ink.textBaseline = "middle";
  ink.fillText(text, left + 6, y);
}
