// What a person changes: applied at once, handed on to be saved, undone and done again.
import { state, tell, change } from "./state.js";
import { all, withKey } from "./features.js";
import { localStorageGet } from "./store.js";

const done = [], undone = [];
let save = null; // given by the link to the server

export function savedBy(does) { save = does; }
export function canEdit() { return save !== null; }
export function canUndo() { return done.length > 0; }
export function canRedo() { return undone.length > 0; }

function copyOf(feature) {
  return { layer: feature.layer, closed: feature.closed, path: feature.path.map((p) => [...p]), columns: { ...feature.columns } };
}

// Time and name that go with every change.
function signed(columns) {
  const by = (localStorageGet("review-by") || "").trim();
  return { ...columns, when: new Date().toISOString(), ...(by ? { by } : {}) };
}

function put(feature, as) {
  if (as === null) {
    all.features = all.features.filter((f) => f !== feature);
    if (state.selected === feature) change({ selected: null }, "selected");
  } else {
    if (!all.features.includes(feature)) all.features.push(feature);
    Object.assign(feature, { path: as.path.map((p) => [...p]), columns: { ...as.columns } });
  }
}

function act(step, from, to) {
  put(step.feature, to);
  save(step.feature, from, to);
  tell("features");
  change({}, "selected");
}

function remember(words, feature, before, after) {
  const step = { words, feature, before, after };
  done.push(step);
  undone.length = 0;
  act(step, before, after);
  tell("history");
}

export function setWords(feature, columns, words) {
  const before = copyOf(feature), after = copyOf(feature);
  after.columns = signed({ ...after.columns, ...columns });
  for (const name of Object.keys(after.columns)) if (after.columns[name] === null || after.columns[name] === "") delete after.columns[name];
  remember(words, feature, before, after);
}

export function setPath(feature, before, path, words) {
  const from = copyOf({ ...feature, path: before }), after = copyOf({ ...feature, path });
  after.columns = signed({ ...after.columns, ...(from.columns.status === "found" ? { status: "drawn" } : {}) });
  remember(words, feature, from, after);
}

const LETTER = { linear: "L", outlines: "A", points: "P" };

function freeId(layer) {
  const letter = LETTER[layer];
  const numbers = all.features.map((f) => String(f.columns.id || "")).filter((id) => id.startsWith(letter)).map((id) => Number(id.slice(1)) || 0);
  return `${letter}${Math.max(0, ...numbers) + 1}`;
}

export function addFeature(layer, path) {
  const columns = signed({ id: freeId(layer), status: "drawn", class: "unknown" });
  const feature = withKey({ layer, closed: layer === "outlines", path, columns });
  remember(`draw ${columns.id}`, feature, null, copyOf(feature));
  change({ selected: feature }, "selected");
  return feature;
}

export function removeFeature(feature) {
  remember(`remove ${feature.columns.id || ""}`, feature, copyOf(feature), null);
}

export function undo() {
  const step = done.pop();
  if (!step) return null;
  undone.push(step);
  act(step, step.after, step.before);
  if (step.before) change({ selected: step.feature }, "selected");
  tell("history");
  return step.words;
}

export function redo() {
  const step = undone.pop();
  if (!step) return null;
  done.push(step);
  act(step, step.before, step.after);
  if (step.after) change({ selected: step.feature }, "selected");
  tell("history");
  return step.words;
}

// A change that was refused is no longer there to be undone.
export function forget(feature) {
  for (const steps of [done, undone]) for (let k = steps.length - 1; k >= 0; k -= 1) if (steps[k].feature === feature) steps.splice(k, 1);
  tell("history");
}

