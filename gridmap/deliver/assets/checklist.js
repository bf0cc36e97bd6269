// The findings as cards, worst first: number, line and stretch, what is wrong, what to do; and a box to tick when done.
import { CLASS, STATE, data, el, make, remember, remembered, stretchWords } from "./checkdata.js";

const done = new Set(remembered(data.key, []));

export function doneCount() { return data.findings.filter((f) => f.severity === "walk again" && done.has(f.number)).length; }

function card(f, parent, open) {
  const box = make("div", parent, undefined, `card ${CLASS[f.severity]}`), known = f.line >= 0 && data.lines[f.line].radargram;
  const body = make(known ? "button" : "div", box, undefined, known ? "" : "flat");
  if (known) { body.type = "button"; body.addEventListener("click", () => open(f.line, f)); }
  make("span", body, String(f.number), "tag");
  make("b", body, [f.name, stretchWords(f)].filter(Boolean).join(", ") || "Survey");
  make("span", body, `${f.title}: ${f.words}`, "what");
  if (f.act) make("span", body, f.act, "act");
  if (f.severity !== "walk again") return;
  const tick = make("label", box, undefined, "tick"), input = make("input", tick);
  input.type = "checkbox";
  input.checked = done.has(f.number);
  make("span", tick, "Done");
  input.setAttribute("aria-label", `Done: ${f.name} ${stretchWords(f)}, ${f.title}`);
  const show = () => { box.classList.toggle("done", input.checked); };
  input.addEventListener("change", () => {
    if (input.checked) done.add(f.number); else done.delete(f.number);
    remember(data.key, [...done]);
    show();
    heading();
  });
  show();
}

function heading() {
  const count = data.findings.filter((f) => f.severity === "walk again").length;
  if (count) el("again-title").textContent = `Walk again (${doneCount()} of ${count} done)`;
}

export function startList(open) {
  const box = el("list-box");
  for (const severity of ["walk again", "attention"]) {
    const held = data.findings.filter((f) => f.severity === severity);
    if (!held.length) continue;
    const title = make("h2", box, `${STATE[severity]} (${held.length})`);
    if (severity === "walk again") title.id = "again-title";
    held.forEach((f) => card(f, box, open));
  }
  heading();
  if (!data.findings.some((f) => f.severity !== "note")) {
    make("h2", box, "Nothing to walk again");
    make("p", box, "No line shows a fault that must be put right before leaving.");
  }
  const notes = data.findings.filter((f) => f.severity === "note");
  if (notes.length) {
    const fold = make("details", box);
    make("summary", fold, `Notes (${notes.length})`);
    notes.forEach((f) => card(f, fold, open));
  }
  if (data.siteWords.length) {
    make("h2", box, "The survey");
    const list = make("ul", box);
    data.siteWords.forEach((words) => make("li", list, words));
  }
}
