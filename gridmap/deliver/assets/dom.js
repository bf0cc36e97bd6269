// Elements by their id, new elements with text, and numbers for people.

export const el = (id) => document.getElementById(id);

export function make(tag, text, parent) {
  const made = document.createElement(tag);
  if (text !== undefined && text !== null) made.textContent = text;
  if (parent) parent.append(made);
  return made;
}

export function button(text, parent, act, name) {
  const made = make("button", text, parent);
  made.type = "button";
  if (name) made.setAttribute("aria-label", name);
  made.addEventListener("click", act);
  return made;
}

export function number(value) { return value === 0 ? "0" : String(Number(value.toPrecision(3))); }

export function metres(value, digits = 2) { return `${value.toFixed(digits)} m`; }

// Names may be written from right to left, or be very long: kept apart from the words around them.
export function apart(text) { return `\u2068${text}\u2069`; }

export function shortened(text, most = 40) { return text.length > most ? `${text.slice(0, most - 1)}\u2026` : text; }

// Said to screen readers and shown for a while; `act` is a button beside the words.
let fading = 0;
export function say(words, act) {
  const box = el("told");
  box.textContent = "";
  make("span", words, box);
  if (act) for (const [label, does] of act) button(label, box, () => { box.hidden = true; does(); });
  box.hidden = false;
  clearTimeout(fading);
  if (!act) fading = setTimeout(() => { box.hidden = true; }, 6000);
}
