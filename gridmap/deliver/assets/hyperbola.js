// A diffraction curve laid over a radargram: its apex and its flanks give the velocity above a small thing.
import { data } from "./data.js";

export const LIGHT = 0.299792458; // m/ns, SI Brochure

export const curve = { on: false, along: null, ns: null, v: data.velocity.v[0] };

const separation = () => (data.radargrams ? data.radargrams.separation : 0);

function depthOfApex(v, ns) { return Math.sqrt(Math.max(0, (v * ns / 2) ** 2 - (separation() / 2) ** 2)); }

// Two-way time, ns, at `off` metres from the apex: down to a point and up again, antennas apart.
export function curveTime(off, v = curve.v) {
  const half = separation() / 2, depth = depthOfApex(v, curve.ns);
  return (Math.hypot(depth, off - half) + Math.hypot(depth, off + half)) / v;
}

// The velocity whose curve from the same apex goes through a point; flanks flatten as it grows.
export function velocityThrough(off, ns) {
  let low = 0.02, high = LIGHT;
  if (Math.abs(off) < 1e-6 || ns <= curve.ns) return high;
  for (let k = 0; k < 40; k += 1) {
    const middle = (low + high) / 2;
    if (curveTime(off, middle) > ns) low = middle; else high = middle;
  }
  return (low + high) / 2;
}

export function curveDepth() { return depthOfApex(curve.v, curve.ns); }

export function curveWords() {
  const permittivity = (LIGHT / curve.v) ** 2;
  return `${curve.v.toFixed(3)} m/ns, top ${curveDepth().toFixed(2)} m, permittivity ${permittivity.toFixed(1)}`;
}
