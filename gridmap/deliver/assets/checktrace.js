// The trace in hand as a wiggle: amplitude across, time down, on the radargram's own time axis; positive swings are filled.
import { cellsOf, colour, data, el } from "./checkdata.js";
import { FRAME, sized, timeShare, timeTicks } from "./checkradargram.js";

const MIDDLE = 32, HALF = 31;

export function amplitude(state) {
  const { columns } = data.lines[state.line].radargram;
  return (cellsOf(state.line)[state.trace * columns + state.sample] - MIDDLE) / HALF;
}

export function drawWiggle(state) {
  const { ink, width, height: high } = sized(el("wiggle")), { radargram } = data.lines[state.line];
  const height = high - FRAME.top - FRAME.bottom, middle = width / 2, reach = width / 2 - 12, cells = cellsOf(state.line), first = state.trace * radargram.columns;
  const xOf = (k) => middle + (cells[first + k] - MIDDLE) / HALF * reach, yOf = (k) => FRAME.top + (k + 0.5) / radargram.columns * height;
  ink.strokeStyle = colour("grid"); ink.lineWidth = 1;
  for (const [value] of timeTicks(radargram)) {
    const y = FRAME.top + timeShare(radargram, value) * height;
    ink.beginPath(); ink.moveTo(4, y); ink.lineTo(width - 4, y); ink.stroke();
  }
  ink.strokeStyle = colour("rule");
  ink.beginPath(); ink.moveTo(middle, FRAME.top); ink.lineTo(middle, FRAME.top + height); ink.stroke();
  ink.fillStyle = colour("ink");
  ink.beginPath(); ink.moveTo(middle, yOf(0));
  for (let k = 0; k < radargram.columns; k += 1) ink.lineTo(Math.max(middle, xOf(k)), yOf(k));
  ink.lineTo(middle, yOf(radargram.columns - 1)); ink.fill();
  ink.strokeStyle = colour("ink"); ink.lineWidth = 1.8;
  ink.beginPath();
  for (let k = 0; k < radargram.columns; k += 1) ink.lineTo(xOf(k), yOf(k));
  ink.stroke();
  ink.textAlign = "center"; ink.textBaseline = "alphabetic";
  ink.fillText(`Trace ${radargram.numbers[state.trace]}`, middle, 20);
  ink.fillText("\u2212", 14, high - 10); ink.fillText("0", middle, high - 10); ink.fillText("+", width - 14, high - 10);
  const y = yOf(state.sample), x = xOf(state.sample);
  ink.strokeStyle = colour("again"); ink.lineWidth = 2;
  ink.beginPath(); ink.moveTo(4, y); ink.lineTo(width - 4, y); ink.stroke();
  ink.fillStyle = colour("card"); ink.lineWidth = 3;
  ink.beginPath(); ink.arc(x, y, 6, 0, 7); ink.fill(); ink.stroke();
}
