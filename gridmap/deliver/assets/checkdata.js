// What the page shows, taken from the elements that hold it, and small helpers.
import { bytesOf, unpackSlice } from "./inflate.js";

export const el = (id) => document.getElementById(id);
export const data = JSON.parse(el("data").textContent);
const packed = el("radargrams").textContent.trim().split("\n");
const unpacked = new Map();
export const tables = data.tables.map((table) => ({ label: table.label, rgb: bytesOf(table.rgb) }));
export const CLASS = { "walk again": "again", attention: "look", note: "note" };
export const STATE = { "walk again": "Walk again", attention: "Look at", note: "Note" };

export function make(tag, parent, text, className) {
  const made = document.createElement(tag);
  if (text !== undefined) made.textContent = text;
  if (className) made.className = className;
  if (parent) parent.append(made);
  return made;
}

export function draw(tag, parent, attributes, text) {
  const made = document.createElementNS("http://www.w3.org/2000/svg", tag);
  for (const [name, value] of Object.entries(attributes)) made.setAttribute(name, value);
  if (text !== undefined) made.textContent = text;
  parent.append(made);
  return made;
}

export function colour(name) { return getComputedStyle(document.documentElement).getPropertyValue(`--${name}`).trim(); }

// Cells of one line, (trace, sample); the last few lines looked at are kept.
export function cellsOf(index) {
  const { rows, columns } = data.lines[index].radargram;
  if (!unpacked.has(index)) {
    if (unpacked.size > 8) unpacked.delete(unpacked.keys().next().value);
    unpacked.set(index, unpackSlice(packed[data.lines[index].radargram.block], rows, columns));
  }
  return unpacked.get(index);
}

export function findingsOf(index) { return data.findings.filter((f) => f.line === index); }

export function stretchWords(f) { return f.stretch || (f.line < 0 ? "" : "whole line"); }

export function roundStep(span, most) {
  const wanted = span / most, power = 10 ** Math.floor(Math.log10(wanted) + 1e-9);
  return [1, 2, 5, 10].map((m) => m * power).find((step) => step >= wanted * (1 - 1e-9));
}

export function ticks(low, high, most) {
  const step = roundStep(high - low, most), digits = Math.max(0, -Math.floor(Math.log10(step) + 1e-9)), found = [];
  for (let k = Math.ceil(low / step - 1e-9); k * step <= high + step * 1e-9; k += 1) found.push([k * step, (k * step).toFixed(digits)]);
  return found;
}

// The browser may refuse to remember anything for a file; then it is forgotten with the page.
export function remembered(key, fallback) {
  try { return JSON.parse(localStorage.getItem(`gridmap-check-${key}`)) ?? fallback; } catch { return fallback; }
}

export function remember(key, value) {
  try { localStorage.setItem(`gridmap-check-${key}`, JSON.stringify(value)); } catch { /* as above */ }
}
