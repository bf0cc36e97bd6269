// The page: words from the data, controls, and what is under the pointer.

const el = (id) => document.getElementById(id);
const data = JSON.parse(el("data").textContent);
const plan = new Plan(el("plan"), data);
const tables = data.tables.map((table) => bytesOf(table.rgb));
const packed = data.stacks.map((_, k) => el(`slices-${k}`).textContent.trim().split("\n"));
const unpacked = new Map();
const first = Math.max(0, data.stacks.findIndex((s) => s.windows.length));
const state = { stack: first, slice: data.stacks[first].start, table: 0, cells: null };

function make(tag, text, parent) {
  const made = document.createElement(tag);
  if (text !== undefined) made.textContent = text;
  if (parent) parent.append(made);
  return made;
}

function number(value) { return value === 0 ? "0" : String(Number(value.toPrecision(3))); }

function cellsOf(stack, slice) {
  const key = `${stack}/${slice}`;
  if (!unpacked.has(key)) {
    if (unpacked.size > 40) unpacked.delete(unpacked.keys().next().value);
    const { rows, columns } = data.stacks[stack];
    unpacked.set(key, unpackSlice(packed[stack][slice], rows, columns));
  }
  return unpacked.get(key);
}

function show() {
  const stack = data.stacks[state.stack], window_ = stack.windows[state.slice];
  const slider = el("depth");
  slider.max = String(stack.windows.length - 1);
  slider.value = String(state.slice);
  slider.setAttribute("aria-valuetext", window_.long);
  el("window").textContent = window_.long;
  el("up").disabled = state.slice === 0;
  el("down").disabled = state.slice === stack.windows.length - 1;
  el("quantity").textContent = stack.quantity.charAt(0).toUpperCase() + stack.quantity.slice(1);
  el("low").textContent = `\u2264 ${number(stack.low)}`;
  el("high").textContent = `\u2265 ${number(stack.high)}`;
  el("plan").setAttribute("aria-label", `Plan of the slice ${window_.long}`);
  state.cells = cellsOf(state.stack, state.slice);
  plan.paint(state.cells, stack.rows, stack.columns, tables[state.table]);
  plan.draw();
  if (state.pointer) read(...state.pointer);
}

function ramp() {
  const ink = el("ramp").getContext("2d"), picture = ink.createImageData(256, 1), rgb = tables[state.table];
  for (let k = 0; k < 256; k += 1) picture.data.set([rgb[3 * k], rgb[3 * k + 1], rgb[3 * k + 2], 255], 4 * k);
  ink.putImageData(picture, 0, 0);
}

function goTo(slice) {
  state.slice = Math.min(data.stacks[state.stack].windows.length - 1, Math.max(0, slice));
  show();
}

function changeStack(to) {
  const from = data.stacks[state.stack].windows.length - 1, last = data.stacks[to].windows.length - 1;
  state.slice = from > 0 ? Math.round(state.slice / from * last) : 0;
  state.stack = to;
  show();
}

function valueAt(easting, northing) {
  const stack = data.stacks[state.stack], { west, north, cell } = data.raster;
  const [, south, east] = data.raster.bounds;
  if (easting < west || easting >= east || northing > north || northing <= south) return "outside the map";
  const column = Math.floor((easting - west) / cell), row = Math.floor((north - northing) / cell);
  const step = state.cells[row * stack.columns + column];
  if (!step) return "no data";
  if (step === 255) return `\u2265 ${number(stack.high)}`;
  if (step === 1) return `\u2264 ${number(stack.low)}`;
  return number(stack.low + (step - 1) / 254 * (stack.high - stack.low));
}

function read(x, y) {
  state.pointer = [x, y];
  const [easting, northing] = plan.toMap(x, y), [e0, n0, a, b] = data.transform;
  const de = easting - e0, dn = northing - n0, square = a * a + b * b;
  el("east").textContent = `${easting.toFixed(2)} m`;
  el("north").textContent = `${northing.toFixed(2)} m`;
  el("local").textContent = `${((a * de + b * dn) / square).toFixed(2)}, ${((a * dn - b * de) / square).toFixed(2)} m`;
  el("value").textContent = valueAt(easting, northing);
  const line = nearestLine(data.lines, easting, northing);
  el("nearest").textContent = line ? `${line.name}, ${line.away.toFixed(2)} m away` : "\u2013";
}

function words() {
  el("site").textContent = data.site;
  el("description").textContent = data.description;
  el("velocity").textContent = data.velocity;
  el("note").textContent = data.note;
  el("east-name").textContent = data.mapped ? `Easting ${data.crs}` : "Map x (local)";
  el("north-name").textContent = data.mapped ? `Northing ${data.crs}` : "Map y (local)";
  for (const text of data.summary) make("p", text, el("summary"));
  for (const text of data.warnings) make("li", text, el("warnings"));
  for (const file of data.files) {
    const row = make("tr", undefined, el("files")), name = make("td", undefined, row);
    const link = make("a", file.path, name);
    link.setAttribute("href", "./" + file.path.split("/").map(encodeURIComponent).join("/"));
    if (file.first) make("span", "open first", name).className = "first";
    make("td", file.what, row);
  }
  el("found-box").hidden = !data.summary.length;
  el("warning-box").hidden = !data.warnings.length;
  el("file-box").hidden = !data.files.length;
}

function controls() {
  data.stacks.forEach((stack, k) => {
    if (!stack.windows.length) return;
    const label = make("label", undefined, el("stacks")), radio = make("input", undefined, label);
    radio.type = "radio";
    radio.name = "stack";
    radio.checked = k === state.stack;
    radio.addEventListener("change", () => changeStack(k));
    make("span", stack.label, label);
  });
  el("stacks").hidden = data.stacks.filter((stack) => stack.windows.length).length < 2;
  data.tables.forEach((table) => make("option", table.label, el("table")));
  el("table").addEventListener("change", () => { state.table = el("table").selectedIndex; ramp(); show(); });
  el("depth").addEventListener("input", () => goTo(Number(el("depth").value)));
  el("up").addEventListener("click", () => goTo(state.slice - 1));
  el("down").addEventListener("click", () => goTo(state.slice + 1));
  for (const name of ["features", "lines", "control", "outline"]) {
    const box = el(`show-${name}`);
    plan.shown[name] = box.checked;
    box.closest("label").hidden = !data[name].length;
    box.addEventListener("change", () => { plan.shown[name] = box.checked; plan.draw(); });
  }
}

function handling() {
  const canvas = el("plan"), held = new Map();
  const resize = (zoom, x, y) => { plan.setZoom(zoom, x, y); plan.draw(); };
  const here = (event) => {
    const box = canvas.getBoundingClientRect();
    return [event.clientX - box.left, event.clientY - box.top];
  };
  const spread = () => {
    const [p, q] = [...held.values()];
    return Math.hypot(p[0] - q[0], p[1] - q[1]);
  };
  canvas.addEventListener("pointerdown", (event) => {
    held.set(event.pointerId, here(event));
    canvas.setPointerCapture(event.pointerId);
    read(...here(event));
  });
  canvas.addEventListener("pointermove", (event) => {
    const now = here(event), before = held.get(event.pointerId);
    if (before && held.size === 1 && plan.zoom > 1) plan.move(now[0] - before[0], now[1] - before[1]);
    if (before && held.size === 2) {
      const was = spread();
      held.set(event.pointerId, now);
      const [p, q] = [...held.values()];
      if (was > 0) plan.setZoom(plan.zoom * spread() / was, (p[0] + q[0]) / 2, (p[1] + q[1]) / 2);
    }
    if (before) { held.set(event.pointerId, now); plan.draw(); }
    read(...now);
  });
  for (const end of ["pointerup", "pointercancel"]) canvas.addEventListener(end, (event) => held.delete(event.pointerId));
  canvas.addEventListener("wheel", (event) => {
    if (!event.ctrlKey && plan.zoom === 1 && event.deltaY > 0) return;
    event.preventDefault();
    resize(plan.zoom * Math.exp(-event.deltaY * 0.0015), ...here(event));
  }, { passive: false });
  canvas.addEventListener("keydown", (event) => {
    const moves = { ArrowLeft: [60, 0], ArrowRight: [-60, 0], ArrowUp: [0, 60], ArrowDown: [0, -60] };
    if (event.key === "+" || event.key === "=") resize(plan.zoom * 1.5);
    else if (event.key === "-") resize(plan.zoom / 1.5);
    else if (event.key === "0") resize(1);
    else if (moves[event.key]) { plan.move(...moves[event.key]); plan.draw(); } else return;
    event.preventDefault();
  });
  el("larger").addEventListener("click", () => resize(plan.zoom * 1.5));
  el("smaller").addEventListener("click", () => resize(plan.zoom / 1.5));
  el("whole").addEventListener("click", () => resize(1));
  new ResizeObserver(() => plan.draw()).observe(canvas);
}

words();
controls();
handling();
ramp();
show();
