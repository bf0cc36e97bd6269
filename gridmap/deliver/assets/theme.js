// Light or dark, as the machine asks or as the reader says.
import { el } from "./dom.js";
import { redraw } from "./state.js";
import { localStorageGet, localStorageSet } from "./store.js";

const NEXT = { auto: "light", light: "dark", dark: "auto" };
const WORDS = { auto: "Light or dark: as the machine", light: "Light", dark: "Dark" };
const asked = matchMedia("(prefers-color-scheme: dark)");

function apply(choice) {
  const dark = choice === "dark" || (choice === "auto" && asked.matches);
  document.documentElement.dataset.theme = dark ? "dark" : "light";
  el("theme").textContent = { auto: "\u25d0", light: "\u25cb", dark: "\u25cf" }[choice];
  el("theme").setAttribute("aria-label", `Colours of the page: ${WORDS[choice]}`);
  el("theme").title = WORDS[choice];
  el("theme").dataset.choice = choice;
  redraw();
}

export function startTheme() {
  apply(localStorageGet("review-theme") in NEXT ? localStorageGet("review-theme") : "auto");
  el("theme").addEventListener("click", () => {
    const next = NEXT[el("theme").dataset.choice];
    localStorageSet("review-theme", next);
    apply(next);
  });
  asked.addEventListener("change", () => apply(el("theme").dataset.choice));
}
