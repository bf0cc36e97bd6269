// What the page was given: data for all views, and what a server adds to them.
import { el } from "./dom.js";

export const data = JSON.parse(el("data").textContent);
export const live = el("live") ? JSON.parse(el("live").textContent) : null;

// Packed texts by name; taken out of the document so that they are held once.
export function packedLines(name) {
  const block = el(name);
  return block ? block.textContent.trim().split("\n") : [];
}

export function toLocal(easting, northing) {
  const [e0, n0, a, b] = data.transform, de = easting - e0, dn = northing - n0, square = a * a + b * b;
  return [(a * de + b * dn) / square, (a * dn - b * de) / square];
}
