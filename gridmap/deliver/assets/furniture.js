// What makes a picture a map: scale bar, north arrow, co-ordinates along its edges.
import { MARGIN } from "./view.js";

export function roundStep(span, most) {
  const wanted = span / most, power = 10 ** Math.floor(Math.log10(wanted) + 1e-9);
  return [1, 2, 5, 10].map((m) => m * power).find((step) => step >= wanted * (1 - 1e-9));
}

export function decimals(step) { return Math.max(0, -Math.floor(Math.log10(step) + 1e-9)); }

export function drawScaleBar(ink, view, colours) {
  const frame = view.frame, longest = Math.min(200, frame.width / 3) / view.scale;
  const power = 10 ** Math.floor(Math.log10(longest));
  const length = [5, 2, 1].map((m) => m * power).find((m) => m <= longest * (1 + 1e-9));
  const whole = length * view.scale, x = frame.left + 24, y = frame.top + frame.height - 40;
  ink.fillStyle = colours.card;
  ink.globalAlpha = 0.9;
  ink.beginPath();
  ink.roundRect(x - 14, y - 10, whole + 48, 40, 4);
  ink.fill();
  ink.globalAlpha = 1;
  ink.fillStyle = "#fff";
  ink.fillRect(x, y, whole, 7);
  ink.fillStyle = "#1d2a2f";
  ink.fillRect(x, y, whole / 2, 7);
  ink.strokeStyle = colours.ink;
  ink.lineWidth = 1;
  ink.strokeRect(x, y, whole, 7);
  ink.fillStyle = colours.ink;
  ink.textBaseline = "top";
  ink.textAlign = "center";
  ink.fillText("0", x, y + 12);
  ink.fillText(`${Number(length.toPrecision(3))} m`, x + whole, y + 12);
  return { x, y, metres: length, pixels: whole };
}

export function drawNorth(ink, view, colours, letter) {
  const x = view.frame.left + 30, y = view.frame.top + 42;
  ink.fillStyle = colours.card;
  ink.globalAlpha = 0.9;
  ink.beginPath();
  ink.roundRect(x - 18, y - 36, 36, 60, 4);
  ink.fill();
  ink.globalAlpha = 1;
  ink.lineWidth = 1;
  ink.strokeStyle = colours.ink;
  for (const [side, fill] of [[-1, colours.ink], [1, colours.card]]) {
    ink.beginPath();
    ink.moveTo(x, y - 14);
    ink.lineTo(x + 8 * side, y + 17);
    ink.lineTo(x, y + 9);
    ink.closePath();
    ink.fillStyle = fill;
    ink.fill();
    ink.stroke();
  }
  ink.fillStyle = colours.ink;
  ink.textAlign = "center";
  ink.textBaseline = "middle";
  ink.fillText(letter, x, y - 24);
}

export function drawTicks(ink, view, colours) {
  const frame = view.frame;
  const [west, north] = view.toMap(frame.left, frame.top);
  const [east, south] = view.toMap(frame.left + frame.width, frame.top + frame.height);
  const step = Math.max(roundStep(east - west, Math.max(2, frame.width / 110)), roundStep(north - south, Math.max(2, frame.height / 60)));
  ink.strokeStyle = colours.soft;
  ink.fillStyle = colours.soft;
  ink.font = ink.font.replace(/^\d+px/, "13px");
  ink.lineWidth = 1;
  ink.textAlign = "center";
  ink.textBaseline = "top";
  for (let k = Math.ceil(west / step); k * step <= east; k += 1) {
    const x = Math.round(view.toPixel(k * step, north)[0]) + 0.5, y = frame.top + frame.height;
    ink.beginPath();
    ink.moveTo(x, y);
    ink.lineTo(x, y + 5);
    ink.stroke();
    const text = (k * step).toFixed(decimals(step)), half = ink.measureText(text).width / 2;
    if (x + half < frame.left + frame.width + MARGIN.right) ink.fillText(text, x, y + 9);
  }
  ink.textAlign = "right";
  ink.textBaseline = "middle";
  for (let k = Math.ceil(south / step); k * step <= north; k += 1) {
    const y = Math.round(view.toPixel(west, k * step)[1]) + 0.5;
    ink.beginPath();
    ink.moveTo(frame.left - 5, y);
    ink.lineTo(frame.left, y);
    ink.stroke();
    if (y > frame.top + 6 && y < frame.top + frame.height - 4) ink.fillText((k * step).toFixed(decimals(step)), frame.left - 8, y);
  }
  ink.strokeStyle = colours.rule;
  ink.strokeRect(frame.left - 0.5, frame.top - 0.5, frame.width + 1, frame.height + 1);
}
