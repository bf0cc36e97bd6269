// The link to the server: features as the file holds them, changes saved one after another, nothing dropped.
import { live } from "./data.js";
import { el, say, apart } from "./dom.js";
import { change, tell } from "./state.js";
import { base } from "./plan.js";
import { nameOf, setFeatures } from "./features.js";
import { forget, savedBy } from "./edits.js";
import { localStorageGet, localStorageNames, localStorageRemove, localStorageSet } from "./store.js";

const WAITING = live ? `review-waiting ${live.map} ` : "";
const OWN = WAITING + crypto.getRandomValues(new Uint32Array(2)).join("-"); // each window keeps its own list
const SETTLED = [200, 400, 409]; // saved, senseless, refused: all else is tried again
const queue = []; // { wire, feature }
let sending = false, stamp = "", trouble = "", linked = false;

async function ask(path, body) {
  const options = body ? { method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(body) } : {};
  const answer = await fetch(live.api + path, { ...options, cache: "no-store" });
  return { status: answer.status, body: await answer.json() };
}

function show() {
  const box = el("saved");
  box.dataset.state = trouble ? "trouble" : queue.length ? "saving" : "saved";
  box.textContent = trouble || (queue.length ? "Saving" : "All changes saved");
  box.title = trouble ? "Changes are kept in this browser and saved when gridmap review runs again." : "";
}

function keep() {
  if (queue.length) localStorageSet(OWN, JSON.stringify(queue.map((item) => item.wire)));
  else localStorageRemove(OWN);
  show();
}

// What windows could not save before they were closed. Saving it twice does no harm: what stands already counts as saved.
function takeLeft() {
  for (const name of localStorageNames().filter((key) => key.startsWith(WAITING) && key !== OWN)) {
    for (const wire of JSON.parse(localStorageGet(name) || "[]")) queue.push({ wire: { ...wire, key: `left ${name} ${wire.key}` }, feature: null });
    keep();
    localStorageRemove(name);
  }
  return queue.length;
}

// What changes, with what stood there: the server refuses a change of what another has changed since.
export function wireOf(feature, before, after) {
  const wire = { key: feature.key, layer: feature.layer, fid: feature.fid ?? null };
  if (before === null) return { ...wire, add: { path: after.path, columns: after.columns } };
  if (after === null) return { ...wire, remove: true };
  const set = {};
  for (const name of new Set([...Object.keys(before.columns), ...Object.keys(after.columns)])) {
    const was = before.columns[name] ?? null, to = after.columns[name] ?? null;
    if (was !== to) set[name] = [was, to];
  }
  if (Object.keys(set).length) wire.set = set;
  if (JSON.stringify(before.path) !== JSON.stringify(after.path)) wire.path = [before.path, after.path];
  return wire;
}

function enqueue(feature, before, after) {
  queue.push({ wire: wireOf(feature, before, after), feature });
  keep();
  sendNext();
}

async function sendNext() {
  if (sending || !queue.length) return;
  sending = true;
  try {
    while (queue.length) {
      const { wire, feature } = queue[0];
      if (feature && wire.fid === null && feature.fid !== undefined) wire.fid = feature.fid;
      const { status, body } = await ask("change", wire);
      if (!SETTLED.includes(status)) throw new Error(body.error); // held by a program, or another review at this address
      trouble = "";
      queue.shift();
      for (const other of queue) if (other.wire.key === wire.key && body.row) other.wire.fid = body.row.fid;
      keep();
      if (status === 200) accept(feature, body);
      else refuse(feature, wire, status, body);
    }
  } catch (problem) {
    trouble = problem instanceof TypeError ? "Not saved yet: no answer from gridmap review" : `Not saved yet: ${problem.message}`;
    show();
    setTimeout(sendNext, 2000);
  } finally {
    sending = false;
  }
}

function accept(feature, body) {
  stamp = body.stamp;
  const waiting = queue.some((item) => item.feature === feature);
  if (feature && body.row) {
    feature.fid = body.row.fid;
    if (!waiting) Object.assign(feature, body.row); // what was measured anew, such as the length
  } else if (feature) delete feature.fid;
  tell("features");
  tell("selected");
}

function refuse(feature, wire, status, body) {
  const name = feature ? apart(nameOf(feature)) : wire.layer;
  if (status !== 409) { say(`${name}: not saved. ${body.error || ""}`); refresh(true); return; }
  if (feature) forget(feature);
  refresh(true);
  if (!body.row) { say(`${name} was removed in another window; your change of it is not saved.`); return; }
  const mine = { ...wire, set: {}, fid: body.row.fid };
  for (const [column, [, to]] of Object.entries(wire.set || {})) mine.set[column] = [body.row.columns[column] ?? null, to];
  if (wire.path) mine.path = [body.row.path, wire.path[1]];
  say(`${name} was changed in another window at the same time. What stands there is shown; yours is not saved.`, [
    ["Keep theirs", () => {}],
    ["Save mine", () => { queue.push({ wire: mine, feature: null }); keep(); sendNext().then(() => refresh(true)); }],
  ]);
}

export async function refresh(always) {
  if (queue.length && !always) return;
  try {
    const { status, body } = await ask(always ? "features" : `features?unless=${encodeURIComponent(stamp)}`);
    if (status !== 200) throw new Error(body.error);
    if (trouble && !queue.length) { trouble = ""; show(); }
    if (!body.rows || (queue.length && linked)) return;
    stamp = body.stamp;
    setFeatures(body.rows);
    if (!linked) { linked = true; savedBy(enqueue); }
    tell("selected");
  } catch (problem) {
    trouble = problem instanceof TypeError ? "No answer from gridmap review: is it still running?" : `Cannot read features: ${problem.message}`;
    show();
  }
}

// A site plan or orthophoto under the slices.
async function fetchBase() {
  try {
    const answer = await fetch(`${live.api}base`);
    Object.assign(base, { picture: await createImageBitmap(await answer.blob()), bounds: live.base.bounds });
    change({ opacity: 0.7 }, "base");
    el("opacity").value = "70";
  } catch {
    say("The base picture could not be read.");
  }
}

export async function startLink() {
  if (!live) return;
  if (live.base) fetchBase();
  const left = takeLeft();
  await refresh(true);
  if (left) {
    say(`${left} change${left > 1 ? "s" : ""} that could not be saved earlier: being saved now.`);
    await sendNext();
    await refresh(true);
  }
  show();
  setInterval(() => { if (document.visibilityState === "visible") refresh(false); }, 2000);
  window.addEventListener("beforeunload", (event) => { if (queue.length) event.preventDefault(); });
  document.documentElement.dataset.ready = "live";
}

export function waitingChanges() { return queue.length; }
