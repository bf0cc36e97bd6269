// Four by four matrices, columns first, as WebGL takes them.

export function multiply(a, b) {
  const out = new Float32Array(16);
  for (let c = 0; c < 4; c += 1) {
    for (let r = 0; r < 4; r += 1) {
      let sum = 0;
      for (let k = 0; k < 4; k += 1) sum += a[4 * k + r] * b[4 * c + k];
      out[4 * c + r] = sum;
    }
  }
  return out;
}

export function perspective(angle, aspect, near, far) {
  const f = 1 / Math.tan(angle / 2);
  return new Float32Array([f / aspect, 0, 0, 0, 0, f, 0, 0, 0, 0, (far + near) / (near - far), -1, 0, 0, 2 * far * near / (near - far), 0]);
}

// Seen from an eye that looks at a target; `up` is the map's up.
export function lookAt(eye, target, up) {
  const z = unit(minus(eye, target)), x = unit(cross(up, z)), y = cross(z, x);
  return new Float32Array([x[0], y[0], z[0], 0, x[1], y[1], z[1], 0, x[2], y[2], z[2], 0, -dot(x, eye), -dot(y, eye), -dot(z, eye), 1]);
}

// Where a point falls on a canvas, pixels; null behind the eye.
export function project(matrix, [x, y, z], width, height) {
  const at = (r) => matrix[r] * x + matrix[4 + r] * y + matrix[8 + r] * z + matrix[12 + r];
  const w = at(3);
  return w <= 0 ? null : [(at(0) / w + 1) / 2 * width, (1 - at(1) / w) / 2 * height];
}

export function minus(a, b) { return [a[0] - b[0], a[1] - b[1], a[2] - b[2]]; }
export function dot(a, b) { return a[0] * b[0] + a[1] * b[1] + a[2] * b[2]; }
export function cross(a, b) { return [a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]]; }
export function unit(a) { const s = Math.hypot(...a) || 1; return [a[0] / s, a[1] / s, a[2] / s]; }
