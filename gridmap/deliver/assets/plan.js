// The plan: a north-up map on a canvas, in metres, with what lies over it.

const INK = "#1c242a", SOFT = "#4d5961", EDGE = "#b01c5c", LINE = "#ffffff", FOUND = "#ff5a36";
const FIT = 0.93;
const MARGIN = { left: 92, right: 14, top: 14, bottom: 40 };

function roundStep(span, most) {
  const wanted = span / most, power = 10 ** Math.floor(Math.log10(wanted) + 1e-9);
  return [1, 2, 5, 10].map((m) => m * power).find((step) => step >= wanted * (1 - 1e-9));
}

function decimals(step) { return Math.max(0, -Math.floor(Math.log10(step) + 1e-9)); }

class Plan {
  constructor(canvas, data) {
    this.canvas = canvas;
    this.data = data;
    this.raster = document.createElement("canvas");
    this.shown = { features: true, lines: false, control: true, outline: true };
    this.hatch = this.makeHatch();
    this.zoom = 1;
    const [west, south, east, north] = data.raster.bounds;
    this.middle = [(west + east) / 2, (south + north) / 2];
  }

  // Pixels on the screen (CSS), not of the canvas.
  get size() { return [this.canvas.clientWidth, this.canvas.clientHeight]; }

  get frame() {
    const [width, height] = this.size;
    return { left: MARGIN.left, top: MARGIN.top, width: width - MARGIN.left - MARGIN.right, height: height - MARGIN.top - MARGIN.bottom };
  }

  get scale() {
    const [west, south, east, north] = this.data.raster.bounds, frame = this.frame;
    return this.zoom * FIT * Math.min(frame.width / (east - west), frame.height / (north - south));
  }

  toPixel(easting, northing) {
    const frame = this.frame;
    return [
      frame.left + frame.width / 2 + (easting - this.middle[0]) * this.scale,
      frame.top + frame.height / 2 - (northing - this.middle[1]) * this.scale,
    ];
  }

  toMap(x, y) {
    const frame = this.frame;
    return [
      this.middle[0] + (x - frame.left - frame.width / 2) / this.scale,
      this.middle[1] - (y - frame.top - frame.height / 2) / this.scale,
    ];
  }

  setZoom(zoom, x, y) {
    const before = x === undefined ? this.middle : this.toMap(x, y);
    this.zoom = Math.min(40, Math.max(1, zoom));
    if (x !== undefined) {
      const after = this.toMap(x, y);
      this.middle = [this.middle[0] + before[0] - after[0], this.middle[1] + before[1] - after[1]];
    }
    this.keepInside();
  }

  move(dx, dy) {
    this.middle = [this.middle[0] - dx / this.scale, this.middle[1] + dy / this.scale];
    this.keepInside();
  }

  keepInside() {
    const [west, south, east, north] = this.data.raster.bounds;
    if (this.zoom === 1) this.middle = [(west + east) / 2, (south + north) / 2];
    this.middle = [Math.min(east, Math.max(west, this.middle[0])), Math.min(north, Math.max(south, this.middle[1]))];
    this.canvas.style.touchAction = this.zoom > 1 ? "none" : "pan-y";
  }

  makeHatch() {
    const tile = document.createElement("canvas");
    tile.width = 8;
    tile.height = 8;
    const ink = tile.getContext("2d");
    ink.fillStyle = "#ececec";
    ink.fillRect(0, 0, 8, 8);
    ink.strokeStyle = "#b4b4b4";
    ink.lineWidth = 1.4;
    for (const shift of [-8, 0, 8]) {
      ink.beginPath();
      ink.moveTo(shift, 8);
      ink.lineTo(shift + 8, 0);
      ink.stroke();
    }
    return tile;
  }

  paint(cells, rows, columns, rgb) {
    this.raster.width = columns;
    this.raster.height = rows;
    const ink = this.raster.getContext("2d"), picture = ink.createImageData(columns, rows), out = picture.data;
    for (let k = 0; k < cells.length; k += 1) {
      const value = cells[k];
      if (!value) continue;
      const shade = 3 * Math.round((value - 1) * 255 / 254);
      out[4 * k] = rgb[shade];
      out[4 * k + 1] = rgb[shade + 1];
      out[4 * k + 2] = rgb[shade + 2];
      out[4 * k + 3] = 255;
    }
    ink.putImageData(picture, 0, 0);
  }

  draw() {
    const [width, height] = this.size, ratio = window.devicePixelRatio || 1;
    this.canvas.width = Math.round(width * ratio);
    this.canvas.height = Math.round(height * ratio);
    const ink = this.canvas.getContext("2d"), frame = this.frame;
    ink.scale(ratio, ratio);
    ink.font = "14px system-ui, 'DejaVu Sans', sans-serif";
    ink.save();
    ink.beginPath();
    ink.rect(frame.left, frame.top, frame.width, frame.height);
    ink.clip();
    this.drawRaster(ink);
    if (this.shown.lines) this.drawLines(ink);
    if (this.shown.outline) this.drawPath(ink, this.data.outline, EDGE, 2, true);
    if (this.shown.control) this.drawControl(ink);
    if (this.shown.features) this.drawFeatures(ink);
    this.drawScaleBar(ink, frame);
    ink.restore();
    this.drawNorth(ink, frame);
    this.drawTicks(ink, frame);
    ink.strokeStyle = INK;
    ink.lineWidth = 1;
    ink.strokeRect(frame.left - 0.5, frame.top - 0.5, frame.width + 1, frame.height + 1);
  }

  drawRaster(ink) {
    const { west, north, cell } = this.data.raster, [, south, east] = this.data.raster.bounds;
    const [x, y] = this.toPixel(west, north), [right, bottom] = this.toPixel(east, south), side = cell * this.scale;
    ink.save();
    ink.beginPath();
    ink.rect(x, y, right - x, bottom - y);
    ink.clip();
    ink.fillStyle = ink.createPattern(this.hatch, "repeat");
    ink.fillRect(x, y, right - x, bottom - y);
    ink.imageSmoothingEnabled = side < 1;
    ink.drawImage(this.raster, x, y, side * this.raster.width, side * this.raster.height);
    ink.restore();
  }

  drawPath(ink, path, colour, width, close) {
    if (path.length < 2) return;
    ink.beginPath();
    path.forEach((point, k) => {
      const [x, y] = this.toPixel(point[0], point[1]);
      if (k) ink.lineTo(x, y); else ink.moveTo(x, y);
    });
    if (close) ink.closePath();
    ink.strokeStyle = colour;
    ink.lineWidth = width;
    ink.stroke();
  }

  drawLines(ink) {
    ink.globalAlpha = 0.75;
    for (const line of this.data.lines) {
      this.drawPath(ink, line.path, INK, 2, false);
      this.drawPath(ink, line.path, LINE, 1, false);
    }
    ink.globalAlpha = 1;
  }

  drawFeatures(ink) {
    for (const [colour, width] of [[INK, 5], [FOUND, 2.5]]) {
      for (const found of this.data.features) {
        if (found.path.length > 1) this.drawPath(ink, found.path, colour, width, found.closed);
        else this.drawSpot(ink, found.path[0], colour, width);
      }
    }
    for (const found of this.data.features) {
      const at = found.closed ? found.path[0] : found.path[Math.floor((found.path.length - 1) / 2)];
      const [x, y] = this.toPixel(at[0], at[1]);
      this.label(ink, found.name, x + 10, y - 12, "left");
    }
  }

  drawSpot(ink, point, colour, width) {
    const [x, y] = this.toPixel(point[0], point[1]);
    ink.beginPath();
    ink.arc(x, y, 7, 0, 2 * Math.PI);
    ink.strokeStyle = colour;
    ink.lineWidth = width;
    ink.stroke();
  }

  drawControl(ink) {
    for (const point of this.data.control) {
      const [x, y] = this.toPixel(point.at[0], point.at[1]);
      ink.beginPath();
      ink.moveTo(x, y - 8);
      ink.lineTo(x + 7, y + 5);
      ink.lineTo(x - 7, y + 5);
      ink.closePath();
      ink.fillStyle = EDGE;
      ink.strokeStyle = "#fff";
      ink.lineWidth = 2;
      ink.stroke();
      ink.fill();
      this.label(ink, point.name.slice(0, 40), x, y - 16, "center");
    }
  }

  label(ink, text, x, y, align) {
    ink.textAlign = align;
    ink.textBaseline = "middle";
    ink.strokeStyle = "rgba(255,255,255,0.92)";
    ink.lineWidth = 4;
    ink.lineJoin = "round";
    ink.strokeText(text, x, y);
    ink.fillStyle = INK;
    ink.fillText(text, x, y);
  }

  drawScaleBar(ink, frame) {
    const longest = Math.min(200, frame.width / 3) / this.scale, power = 10 ** Math.floor(Math.log10(longest));
    const length = [5, 2, 1].map((m) => m * power).find((m) => m <= longest * (1 + 1e-9));
    const whole = length * this.scale, x = frame.left + 24, y = frame.top + frame.height - 44;
    this.bar = { metres: length, pixels: whole };
    ink.fillStyle = "rgba(255,255,255,0.9)";
    ink.fillRect(x - 16, y - 10, whole + 52, 44);
    ink.fillStyle = "#fff";
    ink.fillRect(x, y, whole, 8);
    ink.fillStyle = INK;
    ink.fillRect(x, y, whole / 2, 8);
    ink.strokeStyle = INK;
    ink.lineWidth = 1;
    ink.strokeRect(x, y, whole, 8);
    ink.textBaseline = "top";
    ink.textAlign = "center";
    ink.fillText("0", x, y + 13);
    ink.fillText(`${Number(length.toPrecision(3))} m`, x + whole, y + 13);
  }

  drawNorth(ink, frame) {
    const x = frame.left + 30, y = frame.top + 44;
    ink.fillStyle = "rgba(255,255,255,0.9)";
    ink.fillRect(x - 22, y - 38, 44, 62);
    ink.lineWidth = 1;
    ink.strokeStyle = INK;
    for (const [side, fill] of [[-1, INK], [1, "#fff"]]) {
      ink.beginPath();
      ink.moveTo(x, y - 16);
      ink.lineTo(x + 9 * side, y + 18);
      ink.lineTo(x, y + 10);
      ink.closePath();
      ink.fillStyle = fill;
      ink.fill();
      ink.stroke();
    }
    ink.fillStyle = INK;
    ink.textAlign = "center";
    ink.textBaseline = "middle";
    ink.fillText(this.data.mapped ? "N" : "y", x, y - 27);
  }

  drawTicks(ink, frame) {
    const [west, north] = this.toMap(frame.left, frame.top);
    const [east, south] = this.toMap(frame.left + frame.width, frame.top + frame.height);
    const step = Math.max(roundStep(east - west, Math.max(2, frame.width / 110)), roundStep(north - south, Math.max(2, frame.height / 60)));
    ink.strokeStyle = INK;
    ink.fillStyle = INK;
    ink.lineWidth = 1;
    ink.textAlign = "center";
    ink.textBaseline = "top";
    for (let k = Math.ceil(west / step); k * step <= east; k += 1) {
      const x = Math.round(this.toPixel(k * step, north)[0]) + 0.5, y = frame.top + frame.height;
      ink.beginPath();
      ink.moveTo(x, y);
      ink.lineTo(x, y + 6);
      ink.stroke();
      const text = (k * step).toFixed(decimals(step)), half = ink.measureText(text).width / 2;
      if (x + half < frame.left + frame.width + MARGIN.right) ink.fillText(text, x, y + 10);
    }
    ink.textAlign = "right";
    ink.textBaseline = "middle";
    for (let k = Math.ceil(south / step); k * step <= north; k += 1) {
      const y = Math.round(this.toPixel(west, k * step)[1]) + 0.5;
      ink.beginPath();
      ink.moveTo(frame.left - 6, y);
      ink.lineTo(frame.left, y);
      ink.stroke();
      if (y > frame.top + 6 && y < frame.top + frame.height - 4) ink.fillText((k * step).toFixed(decimals(step)), frame.left - 10, y);
    }
  }
}

function nearestLine(lines, easting, northing) {
  let best = null, least = Infinity;
  for (const line of lines) {
    for (let k = 0; k + 1 < line.path.length; k += 1) {
      const [ax, ay] = line.path[k], [bx, by] = line.path[k + 1], dx = bx - ax, dy = by - ay;
      const t = Math.min(1, Math.max(0, ((easting - ax) * dx + (northing - ay) * dy) / (dx * dx + dy * dy || 1)));
      const away = Math.hypot(easting - ax - t * dx, northing - ay - t * dy);
      if (away < least) { least = away; best = line; }
    }
  }
  return best && { name: best.name, away: least };
}
