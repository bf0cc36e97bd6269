// Tools of the plan: look, measure, draw, move vertices. Each says what a click, a drag and a key do.
import { el, make } from "./dom.js";
import { data, live } from "./data.js";
import { state, on, change, tell } from "./state.js";
import { drawAbove } from "./plan.js";
import { useTool } from "./gestures.js";
import { nearestFeature, select } from "./features.js";
import { measureTool } from "./measure.js";
import { drawTool } from "./draw.js";
import { moveTool } from "./vertices.js";
import { pathTool, sectionTool } from "./sections.js";

const look = {
  label: "Look",
  help: "Point at or tap the plan to read it; click a feature to choose it. Drag to move, wheel or pinch for size.",
  click(e, n, reach) { select(nearestFeature(e, n, 1.6 * reach)); },
};

export const tools = {
  look,
  section: sectionTool,
  cut: pathTool,
  measure: measureTool,
  line: drawTool("linear", "Draw line"),
  area: drawTool("outlines", "Draw area"),
  point: drawTool("points", "Draw point"),
  vertices: moveTool,
};
const NEED_SERVER = ["line", "area", "point", "vertices"];

export function setTool(name) {
  if (tools[state.tool].stop) tools[state.tool].stop();
  change({ tool: name });
  if (tools[name].start) tools[name].start();
  useTool(tools[name]);
  showTool();
  tell("tool");
}

function showTool() {
  for (const press of el("tools").querySelectorAll("button")) press.setAttribute("aria-pressed", String(press.dataset.tool === state.tool));
  el("tool-help").textContent = tools[state.tool].help;
  const steps = el("steps");
  steps.hidden = !tools[state.tool].finish;
  el("finish").disabled = steps.hidden || !tools[state.tool].ready();
}

export function startTools() {
  for (const [name, tool] of Object.entries(tools)) {
    if ((NEED_SERVER.includes(name) && !live) || (name === "section" && !data.radargrams)) continue;
    const press = make("button", tool.label, el("tools"));
    press.type = "button";
    press.dataset.tool = name;
    if (tool.short) {
      press.textContent = tool.short;
      press.setAttribute("aria-label", tool.label);
    }
    if (name === NEED_SERVER[0]) press.className = "begins";
    press.addEventListener("click", () => setTool(name));
  }
  el("finish").addEventListener("click", () => { tools[state.tool].finish(); showTool(); });
  el("back").addEventListener("click", () => { tools[state.tool].key("Backspace"); showTool(); });
  drawAbove((ink, v, colours) => { if (tools[state.tool].draw) tools[state.tool].draw(ink, v, colours); });
  on("sketch", showTool);
  useTool(tools.look);
  showTool();
}

