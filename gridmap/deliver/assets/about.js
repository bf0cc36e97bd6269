// What stands beside the plan in words: site, velocity, files.
import { data, live } from "./data.js";
import { el, make } from "./dom.js";

function fileRow(file) {
  const row = make("tr", null, el("files")), name = make("td", null, row);
  if (live) make("span", file.path, name);
  else {
    const link = make("a", file.path, name);
    link.setAttribute("href", `./${file.path.split("/").map(encodeURIComponent).join("/")}`);
  }
  if (file.first) make("span", "open first", name).className = "first";
  make("td", file.what, row);
}

export function startAbout() {
  el("site").textContent = data.site;
  el("site").title = data.site;
  el("description").textContent = data.description;
  el("velocity").textContent = data.velocity.words;
  for (const file of data.files) fileRow(file);
  el("file-box").hidden = !data.files.length;
  for (const part of document.querySelectorAll(live ? ".only-static" : ".only-live")) part.remove();
}
