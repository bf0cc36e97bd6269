// The page: starts every part, in order.
import { data } from "./data.js";
import { el, say } from "./dom.js";
import { on, tell, change } from "./state.js";
import { startAbout } from "./about.js";
import { startTheme } from "./theme.js";
import { measureSlice, startRuler, unit } from "./ruler.js";
import { startReadout } from "./readout.js";
import { startLegend } from "./legend.js";
import { startList } from "./list.js";
import { startTools } from "./tools.js";
import { startSections } from "./sections.js";
import { startScene } from "./scene.js";
import { listen, zoomBy } from "./gestures.js";
import { view } from "./plan.js";
import { canRedo, canUndo, redo, undo } from "./edits.js";
import { startLink } from "./link.js";
import { unpackAll } from "./slices.js";

function startHistory() {
  if (!el("undo")) return;
  const again = (does, word) => () => { const words = does(); if (words) say(`${word}: ${words}`); };
  const back = again(undo, "Undone"), forth = again(redo, "Done again");
  el("undo").addEventListener("click", back);
  el("redo").addEventListener("click", forth);
  document.addEventListener("keydown", (event) => {
    if (!(event.ctrlKey || event.metaKey) || /^(INPUT|TEXTAREA)$/.test(event.target.tagName) && event.target.type !== "range") return;
    const key = event.key.toLowerCase();
    if (key === "z" && !event.shiftKey) back();
    else if (key === "y" || (key === "z" && event.shiftKey)) forth();
    else return;
    event.preventDefault();
  });
  const show = () => { el("undo").disabled = !canUndo(); el("redo").disabled = !canRedo(); };
  on("history", show);
  show();
}

function startSize() {
  el("larger").addEventListener("click", () => zoomBy(1.5));
  el("smaller").addEventListener("click", () => zoomBy(1 / 1.5));
  el("whole").addEventListener("click", () => { view.setZoom(1); zoomBy(1); });
}

// Tabs after the pattern of the ARIA authoring practices: arrows move between them.
function startTabs() {
  const tabs = [...document.querySelectorAll("[role=tab]")];
  const open = (tab) => {
    for (const other of tabs) {
      other.setAttribute("aria-selected", String(other === tab));
      other.tabIndex = other === tab ? 0 : -1;
      el(other.getAttribute("aria-controls")).hidden = other !== tab;
    }
  };
  tabs.forEach((tab, k) => {
    tab.addEventListener("click", () => open(tab));
    tab.addEventListener("keydown", (event) => {
      const step = { ArrowRight: 1, ArrowLeft: -1 }[event.key];
      if (!step) return;
      const next = tabs[(k + step + tabs.length) % tabs.length];
      open(next);
      next.focus();
    });
  });
  open(tabs[0]);
}

startAbout();
startTheme();
startTabs();
startRuler();
el("ruler-unit").textContent = unit();
startReadout();
startLegend();
startTools();
startSections();
startScene();
startList();
startHistory();
startSize();
listen();
change({}, "slice");
startLink();
setTimeout(async () => {
  await unpackAll((stack, slice) => { measureSlice(stack, slice); if (slice % 8 === 0) tell("measured"); });
  tell("measured");
  document.documentElement.dataset.slices = "ready";
}, 50);
if (data.stacks.length === 1) el("stack").closest("label").hidden = true;
