// WebGL 2: one program for shaded meshes, lines and the slice's picture.

const VERTEX = `#version 300 es
in vec3 place; in vec3 normal; in vec2 on; uniform mat4 seen; out vec3 facing; out vec2 spot;
void main() { gl_Position = seen * vec4(place, 1.0); facing = normal; spot = on; }`;
const FRAGMENT = `#version 300 es
precision highp float;
in vec3 facing; in vec2 spot; uniform vec4 colour; uniform float lit; uniform sampler2D picture; uniform float textured; out vec4 ink;
void main() {
  vec4 base = colour;
  if (textured > 0.5) { vec4 t = texture(picture, spot); if (t.a < 0.5) discard; base = vec4(t.rgb, colour.a); }
  float light = 1.0;
  if (lit > 0.5) {
    vec3 n = normalize(facing + vec3(1e-9));
    light = 0.42 + 0.5 * abs(dot(n, normalize(vec3(-0.4, -0.35, 0.85)))) + 0.14 * max(0.0, n.z);
  }
  ink = vec4(base.rgb * light, base.a);
}`;

export function startGl(canvas) {
  const gl = canvas.getContext("webgl2", { antialias: true, alpha: true, premultipliedAlpha: false, preserveDrawingBuffer: false });
  if (!gl) return null;
  const program = gl.createProgram();
  for (const [kind, text] of [[gl.VERTEX_SHADER, VERTEX], [gl.FRAGMENT_SHADER, FRAGMENT]]) {
    const shader = gl.createShader(kind);
    gl.shaderSource(shader, text);
    gl.compileShader(shader);
    gl.attachShader(program, shader);
  }
  for (const [k, name] of ["place", "normal", "on"].entries()) gl.bindAttribLocation(program, k, name);
  gl.linkProgram(program);
  if (!gl.getProgramParameter(program, gl.LINK_STATUS)) return null;
  const at = Object.fromEntries(["seen", "colour", "lit", "picture", "textured"].map((name) => [name, gl.getUniformLocation(program, name)]));
  gl.useProgram(program);
  gl.enable(gl.DEPTH_TEST);
  gl.enable(gl.BLEND);
  gl.blendFuncSeparate(gl.SRC_ALPHA, gl.ONE_MINUS_SRC_ALPHA, gl.ONE, gl.ONE_MINUS_SRC_ALPHA);
  const texture = gl.createTexture();
  gl.bindTexture(gl.TEXTURE_2D, texture);
  for (const [name, value] of [[gl.TEXTURE_MIN_FILTER, gl.LINEAR], [gl.TEXTURE_MAG_FILTER, gl.NEAREST], [gl.TEXTURE_WRAP_S, gl.CLAMP_TO_EDGE], [gl.TEXTURE_WRAP_T, gl.CLAMP_TO_EDGE]]) gl.texParameteri(gl.TEXTURE_2D, name, value);

  function buffer(target, values) {
    const made = gl.createBuffer();
    gl.bindBuffer(target, made);
    gl.bufferData(target, values, gl.STATIC_DRAW);
    return made;
  }

  return {
    gl,
    // A mesh, or pairs of places for lines, held by the graphics card.
    load(shape, { lines = false } = {}) {
      const array = gl.createVertexArray();
      gl.bindVertexArray(array);
      const held = [];
      const give = (k, values, size) => {
        held.push(buffer(gl.ARRAY_BUFFER, values));
        gl.enableVertexAttribArray(k);
        gl.vertexAttribPointer(k, size, gl.FLOAT, false, 0, 0);
      };
      const places = lines ? shape : shape.positions;
      give(0, places, 3);
      if (!lines) give(1, shape.normals, 3);
      if (shape.places) give(2, shape.places, 2);
      if (!lines) held.push(buffer(gl.ELEMENT_ARRAY_BUFFER, shape.indices));
      gl.bindVertexArray(null);
      return { array, held, lines, count: lines ? places.length / 3 : shape.indices.length };
    },
    drop(item) { if (item) { gl.deleteVertexArray(item.array); for (const b of item.held) gl.deleteBuffer(b); } },
    picture(canvas_) { gl.texImage2D(gl.TEXTURE_2D, 0, gl.RGBA, gl.RGBA, gl.UNSIGNED_BYTE, canvas_); },
    clear(width, height, [r, g, b]) {
      gl.viewport(0, 0, width, height);
      gl.clearColor(r, g, b, 1);
      gl.clear(gl.COLOR_BUFFER_BIT | gl.DEPTH_BUFFER_BIT);
    },
    draw(item, seen, colour, { textured = false } = {}) {
      gl.uniformMatrix4fv(at.seen, false, seen);
      gl.uniform4fv(at.colour, colour);
      gl.uniform1f(at.lit, item.lines || textured ? 0 : 1);
      gl.uniform1f(at.textured, textured ? 1 : 0);
      gl.depthMask(colour[3] >= 0.99);
      gl.bindVertexArray(item.array);
      if (item.lines) gl.drawArrays(gl.LINES, 0, item.count);
      else gl.drawElements(gl.TRIANGLES, item.count, gl.UNSIGNED_INT, 0);
      gl.depthMask(true);
    },
  };
}
