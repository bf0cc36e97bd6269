// The check page: the verdict, the plan and the list; a line's radargram takes their place and gives it back.
import { STATE, data, el, make, remember, remembered } from "./checkdata.js";
import { startList } from "./checklist.js";
import { current, redraw, showLine, startLine } from "./checkline.js";
import { drawPlan, startLegend, startPlan } from "./checkplan.js";

let chosen = Math.max(0, data.lines.findIndex((line) => line.severity === "walk again"));

function choose(index) {
  chosen = Math.max(0, Math.min(data.lines.length - 1, index));
  el("pick").value = String(chosen);
  el("open-before").disabled = chosen === 0;
  el("open-after").disabled = chosen === data.lines.length - 1;
  if (!el("survey").hidden) drawPlan(chosen);
}

function open(index, finding = null, remembering = true) {
  el("survey").hidden = true;
  el("line").hidden = false;
  choose(index);
  showLine(index, finding);
  document.querySelector("main").scrollTop = 0;
  el("line-name").focus({ preventScroll: true });
  if (remembering) history.pushState(null, "", `#line-${index}`);
}

function back() {
  el("line").hidden = true;
  el("survey").hidden = false;
  choose(current());
  document.querySelector("main").scrollTop = 0;
  el("open").focus({ preventScroll: true });
}

const NEXT = { auto: "light", light: "dark", dark: "auto" };
const asked = matchMedia("(prefers-color-scheme: dark)");

function theme(choice) {
  document.documentElement.dataset.theme = choice === "dark" || (choice === "auto" && asked.matches) ? "dark" : "light";
  el("theme").dataset.choice = choice;
  el("theme").textContent = { auto: "\u25D0", light: "\u2600\uFE0E", dark: "\u263E\uFE0E" }[choice];
  el("theme").setAttribute("aria-label", `Colours of the page: ${{ auto: "as the tablet", light: "light", dark: "dark" }[choice]}. Press to change.`);
  redraw();
}

function fromAddress() {
  const found = /^#line-(\d+)$/.exec(location.hash), index = found ? Number(found[1]) : -1;
  if (index >= 0 && index < data.lines.length && data.lines[index].radargram) open(index, null, false);
  else if (!el("line").hidden) back();
}

data.lines.forEach((line, k) => {
  const state = line.severity && line.severity !== "note" ? STATE[line.severity].toLowerCase() : "good";
  make("option", el("pick"), `${line.name}: ${state}`).value = String(k);
});
startLegend();
startList((index, finding) => open(index, finding));
startPlan(choose, open);
startLine();
el("pick").addEventListener("change", () => choose(Number(el("pick").value)));
el("open-before").addEventListener("click", () => choose(chosen - 1));
el("open-after").addEventListener("click", () => choose(chosen + 1));
el("open").addEventListener("click", () => open(chosen));
el("before").addEventListener("click", () => open(current() - 1));
el("after").addEventListener("click", () => open(current() + 1));
el("back").addEventListener("click", () => { history.pushState(null, "", "#"); back(); });
el("theme").addEventListener("click", () => { const next = NEXT[el("theme").dataset.choice]; remember("theme", next); theme(next); });
asked.addEventListener("change", () => theme(el("theme").dataset.choice));
window.addEventListener("popstate", fromAddress);
document.addEventListener("keydown", (event) => { if (event.key === "Escape" && !el("line").hidden) { history.pushState(null, "", "#"); back(); } });
new ResizeObserver(() => { if (!el("survey").hidden) drawPlan(chosen); }).observe(el("sheet"));
new ResizeObserver(redraw).observe(el("radargram"));
for (const id of ["open", "open-before", "open-after", "pick"]) el(id).disabled = !data.lines.length;
theme(remembered("theme", "auto") in NEXT ? remembered("theme", "auto") : "auto");
choose(chosen);
fromAddress();
