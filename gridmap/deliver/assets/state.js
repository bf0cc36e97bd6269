// What is on the screen, and who wants to know when it changes.
import { data } from "./data.js";

const first = Math.max(0, data.stacks.findIndex((s) => s.windows.length));

export const state = {
  stack: first,
  slice: data.stacks[first].start,
  together: 1, // slices joined, the strongest of them shown
  perSlice: false, // stretched to the slice, or one scale for all
  table: 0,
  opacity: 1,
  shown: { features: true, rejected: false, findings: true, lines: false, control: true, outline: true, base: true },
  pointer: null, // [easting, northing] under the pointer or the crosshair
  tool: "look",
  view: "plan",
  selected: null,
};

const wanting = new Map();

export function on(names, does) {
  for (const name of names.split(" ")) wanting.set(name, [...(wanting.get(name) || []), does]);
}

export function tell(name, what) { for (const does of wanting.get(name) || []) does(what); }

// Several changes within one frame are drawn once.
let asked = 0;
export function redraw() {
  if (!asked) asked = requestAnimationFrame(() => { asked = 0; tell("draw"); });
}

export function change(part, ...names) {
  Object.assign(state, part);
  for (const name of names) tell(name);
  redraw();
}
