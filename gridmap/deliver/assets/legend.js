// How the slice is coloured, and what is shown over it.
import { data } from "./data.js";
import { el, make, number } from "./dom.js";
import { state, on, change } from "./state.js";
import { base, scaleEnds } from "./plan.js";
import { shareOf } from "./slices.js";
import { tables } from "./shade.js";

function drawRamp() {
  const ink = el("ramp").getContext("2d"), picture = ink.createImageData(256, 1), rgb = tables[state.table];
  for (let k = 0; k < 256; k += 1) picture.data.set([rgb[3 * k], rgb[3 * k + 1], rgb[3 * k + 2], 255], 4 * k);
  ink.putImageData(picture, 0, 0);
}

function words() {
  const stack = data.stacks[state.stack], [low, high] = scaleEnds().map((b) => stack.low + shareOf(b) * (stack.high - stack.low));
  el("quantity").textContent = stack.quantity.charAt(0).toUpperCase() + stack.quantity.slice(1);
  el("low").textContent = `\u2264 ${number(low)}`;
  el("high").textContent = `\u2265 ${number(high)}`;
  el("same").textContent = state.perSlice ? "scale of this slice alone" : "same scale on all slices";
}

export function startLegend() {
  data.tables.forEach((table, k) => {
    if (!table.label.includes("nought")) make("option", table.label, el("table")).value = String(k);
  });
  el("table").addEventListener("change", () => { change({ table: Number(el("table").value) }, "legend"); drawRamp(); });
  el("scaling").addEventListener("change", () => change({ perSlice: el("scaling").value === "slice" }, "slice"));
  el("opacity").addEventListener("input", () => {
    const share = Number(el("opacity").value);
    el("opacity").setAttribute("aria-valuetext", `${share} %`);
    change({ opacity: share / 100 });
  });
  for (const box of document.querySelectorAll("[data-show]")) {
    const name = box.dataset.show;
    box.checked = state.shown[name];
    box.addEventListener("change", () => { state.shown[name] = box.checked; change({}, "shown"); });
  }
  el("note").textContent = data.note;
  on("slice", words);
  on("base", () => { for (const row of document.querySelectorAll(".with-base")) row.hidden = !base.picture; });
  drawRamp();
  words();
}
