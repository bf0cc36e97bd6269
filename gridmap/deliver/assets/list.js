// The list of features, what is known of the chosen one, and what a person says of it.
import { data, live } from "./data.js";
import { el, make, button } from "./dom.js";
import { state, on, change } from "./state.js";
import { KIND, EDITABLE, all, depthOf, isShown, nameOf, select, statusOf } from "./features.js";
import { openAcross } from "./sections.js";
import { canEdit, removeFeature, setWords } from "./edits.js";
import { localStorageGet, localStorageSet } from "./store.js";

const ORDER = ["linear", "outlines", "points", "check", "above_ground", "rejected"];
const STATUS_WORDS = { found: "to be judged", accepted: "accepted", drawn: "drawn", rejected: "rejected" };

function showList() {
  const list = el("features"), had = list.contains(document.activeElement) ? document.activeElement.dataset.key : null;
  list.textContent = "";
  const rows = all.features.filter(isShown).sort((a, b) => ORDER.indexOf(a.layer) - ORDER.indexOf(b.layer));
  for (const feature of rows) {
    const row = button("", make("li", null, list), () => select(feature));
    row.dataset.key = String(feature.key);
    row.className = `feature ${statusOf(feature)}`;
    if (feature === state.selected) row.setAttribute("aria-current", "true");
    make("bdi", nameOf(feature), make("span", null, row)).className = "id";
    make("span", `${KIND[feature.layer] || feature.layer}${depthOf(feature) ? `, ${depthOf(feature)}` : ""}`, row).className = "what";
    if (EDITABLE.includes(feature.layer) || feature.layer === "rejected") make("span", STATUS_WORDS[statusOf(feature)] || statusOf(feature), row).className = "badge";
    if (String(feature.key) === had) row.focus();
  }
  const judged = all.features.filter((f) => EDITABLE.includes(f.layer)), left = judged.filter((f) => statusOf(f) === "found").length;
  el("count").textContent = judged.length === 0 ? "No feature is listed. An empty list is no proof of empty ground."
    : `${judged.length} feature${judged.length > 1 ? "s" : ""}, ${left} to be judged`;
}

const FACTS = [
  ["depth_top_m", "Depth to the top", (v, c) => depthOf({ columns: c, layer: "linear" })],
  ["length_m", "Length", (v) => `${v.toFixed(2)} m`],
  ["width_m", "Width", (v) => `${v.toFixed(2)} m`],
  ["area_m2", "Area", (v) => `${v.toFixed(2)} m\u00b2`],
  ["thickness_m", "Thickness", (v) => `${v.toFixed(2)} m`],
  ["confidence", "Confidence", (v) => v.toFixed(2)],
  ["crossings", "Lines that show it", (v) => String(v)],
  ["evidence", "Evidence", (v) => String(v)],
  ["quality_level_suggested", "Quality level suggested", (v) => String(v)],
  ["suggested_why", "Why", (v) => String(v)],
  ["reason", "Not believed because", (v) => String(v)],
];
const PERSON = ["status", "class", "quality_level", "depth_said_m", "note", "by", "when", "id"];

function showFacts(feature, box) {
  const list = make("dl", null, box), c = feature.columns, told = new Set(PERSON);
  list.className = "facts";
  const fact = (name, words) => { const row = make("div", null, list); make("dt", name, row); make("dd", words, row).dir = "auto"; };
  for (const [name, words, say] of FACTS) {
    told.add(name);
    if (c[name] !== undefined) fact(words, say(c[name], c));
  }
  const known = ["depth_sd_m", "depth_start_m", "depth_end_m"];
  for (const [name, value] of Object.entries(c)) {
    if (told.has(name) || known.includes(name)) continue;
    fact(name.replace(/_/g, " "), typeof value === "number" ? String(Number(value.toPrecision(4))) : String(value));
  }
  if (!live || !EDITABLE.includes(feature.layer)) {
    for (const name of ["class", "quality_level", "depth_said_m", "note", "by"]) {
      if (c[name] !== undefined && c[name] !== "unknown") fact(name.replace(/_said_m/, " said, m").replace(/_/g, " "), String(c[name]));
    }
  }
}

function field(box, label, name, feature, more) {
  const row = make("label", null, box), input = make(more.tag || "input", null, row);
  row.prepend(make("span", label));
  row.className = "field";
  for (const [key, value] of Object.entries(more.set || {})) input[key] = value;
  if (more.list) input.setAttribute("list", more.list);
  input.dir = "auto";
  input.id = `say-${name}`;
  input.value = feature.columns[name] ?? "";
  input.addEventListener("change", () => {
    if (!input.checkValidity()) { input.reportValidity(); return; }
    const value = input.type === "number" ? (input.value === "" ? null : Number(input.value)) : input.value.trim() || (name === "class" ? "unknown" : null);
    setWords(feature, { [name]: value }, `${name.replace(/_/g, " ")} of ${nameOf(feature)}`);
  });
}

export function judge(feature, status) {
  if (!canEdit() || !feature || !(EDITABLE.includes(feature.layer) || feature.layer === "rejected")) return;
  if (statusOf(feature) !== status) setWords(feature, { status }, `${status === "found" ? "set back" : status.replace(/ed$/, "")} ${nameOf(feature)}`);
}

function showForm(feature, box) {
  const status = statusOf(feature), bar = make("div", null, box);
  bar.className = "judge";
  bar.setAttribute("role", "group");
  bar.setAttribute("aria-label", "Your judgement");
  const back = feature.layer === "rejected" ? "rejected" : "found";
  for (const [to, words] of [["accepted", "Accept"], ["rejected", "Reject"], [back, "Undecided"]]) {
    if (to === "rejected" && feature.layer === "rejected" && words === "Undecided") continue;
    const press = button(words, bar, () => judge(feature, to));
    press.id = `judge-${words.toLowerCase()}`;
    press.setAttribute("aria-pressed", String(status === to));
  }
  if (feature.layer !== "rejected") {
    field(box, "What it is", "class", feature, { list: "classes", set: { maxLength: 200 } });
    field(box, "Depth you know, m", "depth_said_m", feature, { set: { type: "number", min: "0", max: "50", step: "any" } });
    field(box, "Quality level (set by a licensed person)", "quality_level", feature, { set: { maxLength: 200 } });
  }
  field(box, "Note", "note", feature, { tag: "textarea", set: { rows: 2, maxLength: 4000 } });
  if (statusOf(feature) === "drawn" && feature.columns.depth_top_m === undefined) button("Remove what I drew", box, () => removeFeature(feature));
}

function showChosen() {
  showList();
  const box = el("chosen"), feature = state.selected, held = box.contains(document.activeElement) ? document.activeElement.id : "";
  box.textContent = "";
  box.hidden = !feature;
  if (!feature) return;
  const title = make("h3", null, box);
  make("bdi", nameOf(feature), title);
  make("span", ` ${KIND[feature.layer] || feature.layer}`, title).className = "what";
  if (canEdit() && (EDITABLE.includes(feature.layer) || feature.layer === "rejected")) showForm(feature, box);
  if (data.radargrams && feature.path.length) button("Section across it", box, () => openAcross(feature)).id = "across";
  showFacts(feature, box);
  if (held && el(held)) el(held).focus();
}

export function startList() {
  for (const name of ["water", "sewer", "drain", "gas", "electric", "telecom", "tank", "wall", "pit", "void", "grave", "slab", "unknown"]) make("option", null, el("classes")).value = name;
  on("features shown", showList);
  on("selected", showChosen);
  for (const target of [el("features"), el("plan")]) {
    target.addEventListener("keydown", (event) => {
      if (event.ctrlKey || event.metaKey || event.altKey || !state.selected) return;
      if (event.key === "a") judge(state.selected, "accepted");
      else if (event.key === "r") judge(state.selected, "rejected");
    });
  }
  if (live) {
    el("by").value = localStorageGet("review-by") || "";
    el("by").addEventListener("change", () => localStorageSet("review-by", el("by").value));
  }
  for (const text of data.summary) make("p", text, el("summary")).dir = "auto";
  for (const text of data.warnings) make("li", text, el("warnings")).dir = "auto";
  el("warning-box").hidden = !data.warnings.length;
  change({}, "selected");
}
