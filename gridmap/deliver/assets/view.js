// A north-up view of the map: metres to pixels and back, size and place.

const FIT = 0.94;
export const MARGIN = { left: 76, right: 12, top: 12, bottom: 34 };

export class View {
  constructor(canvas, bounds) {
    this.canvas = canvas;
    this.bounds = bounds;
    this.zoom = 1;
    this.middle = [(bounds[0] + bounds[2]) / 2, (bounds[1] + bounds[3]) / 2];
  }

  // Pixels on the screen (CSS), not of the canvas.
  get frame() {
    return {
      left: MARGIN.left,
      top: MARGIN.top,
      width: Math.max(50, this.canvas.clientWidth - MARGIN.left - MARGIN.right),
      height: Math.max(50, this.canvas.clientHeight - MARGIN.top - MARGIN.bottom),
    };
  }

  get scale() {
    const [west, south, east, north] = this.bounds, frame = this.frame;
    return this.zoom * FIT * Math.min(frame.width / (east - west), frame.height / (north - south));
  }

  toPixel(easting, northing) {
    const frame = this.frame, scale = this.scale;
    return [
      frame.left + frame.width / 2 + (easting - this.middle[0]) * scale,
      frame.top + frame.height / 2 - (northing - this.middle[1]) * scale,
    ];
  }

  toMap(x, y) {
    const frame = this.frame, scale = this.scale;
    return [
      this.middle[0] + (x - frame.left - frame.width / 2) / scale,
      this.middle[1] - (y - frame.top - frame.height / 2) / scale,
    ];
  }

  setZoom(zoom, x, y) {
    const before = x === undefined ? this.middle : this.toMap(x, y);
    this.zoom = Math.min(60, Math.max(1, zoom));
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

  centre(easting, northing) {
    this.middle = [easting, northing];
    this.keepInside();
  }

  keepInside() {
    const [west, south, east, north] = this.bounds;
    if (this.zoom === 1) this.middle = [(west + east) / 2, (south + north) / 2];
    this.middle = [
      Math.min(east, Math.max(west, this.middle[0])),
      Math.min(north, Math.max(south, this.middle[1])),
    ];
    this.canvas.style.touchAction = "none";
  }
}
