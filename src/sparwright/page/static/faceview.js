// A face seen from above, and cut open, drawn by the graphics card from the times at which its places were lowered.
// Nothing is worked out again for another moment: one number, the motion, changes.

import { program, vertices } from "./card.js";

const QUAD = `#version 300 es
in vec2 corner; uniform vec4 window; out vec2 at;
void main() { at = mix(window.xy, window.zw, corner * 0.5 + 0.5); gl_Position = vec4(corner, 0.0, 1.0); }`;

const SURFACE = `#version 300 es
precision highp float; precision highp int; precision highp usampler2DArray; precision highp sampler2D;
in vec2 at; out vec4 ink;
uniform usampler2DArray events; uniform sampler2D walls; uniform int layers, intervals;
uniform vec3 grid; uniform vec2 cells; uniform vec2 code; uniform float now, fresh, lowest, px, along, row;
const float STEEP = 0.15; // mm from cell to cell
const vec3 PAPER = vec3(1.0, 0.996, 0.984), INK = vec3(0.114, 0.114, 0.106), NEW = vec3(0.0, 0.447, 0.698);
vec2 surface(ivec2 c) { // the motion that lowered it last, counted from 1, and its height
  c = clamp(c, ivec2(0), ivec2(cells) - 1);
  uint found = 0u;
  for (int l = 0; l < layers; l++) {
    uint e = texelFetch(events, ivec3(c, l), 0).r;
    if (l == 0 || float(e >> 12u) <= now) found = e;
  }
  uint steps = found & 4095u;
  return vec2(float(found >> 12u), steps == 4095u ? -1e6 : code.x - float(steps) * code.y);
}
float height(ivec2 c) { return surface(c).g; }
bool out_of(vec2 g) { return any(lessThan(g, vec2(0.0))) || any(greaterThanEqual(g, cells)); }
float under(int row) { return texelFetch(walls, ivec2(row, 0), 0).g; }
vec4 spline(float t) { // weights of four cells in a row, cubic B-spline
  float u = 1.0 - t;
  return vec4(u * u * u, 3.0 * t * t * t - 6.0 * t * t + 4.0, 3.0 * u * u * u - 6.0 * u * u + 4.0, t * t * t) / 6.0;
}
/* How much of the place between cells is high, with the steps from cell to cell rounded off, and which heights meet there. */
vec3 rounded(ivec2 corner, vec2 part, float open) {
  vec4 across = spline(part.x), along = spline(part.y);
  float tops[16];
  float low = 1e6, high = -1e6, share = 0.0;
  for (int k = 0; k < 16; k++) {
    tops[k] = max(height(corner + ivec2(k % 4 - 1, k / 4 - 1)), open);
    low = min(low, tops[k]);
    high = max(high, tops[k]);
  }
  for (int k = 0; k < 16; k++) share += across[k % 4] * along[k / 4] * step(0.5 * (low + high), tops[k]);
  return vec3(share, low, high);
}
void main() {
  ink = vec4(PAPER, 1.0);
  if (along > 0.5) { // cut open: at is (x, n)
    vec2 g = (vec2(at.x, row) - grid.xy) / grid.z;
    if (out_of(g)) return;
    float h = height(ivec2(g));
    for (int k = 0; k < intervals; k++) {
      vec2 w = texelFetch(walls, ivec2(int(g.y), k), 0).rg;
      float top = min(w.r, h);
      if (at.y < top && at.y > w.g) {
        bool hatch = mod((at.x + at.y) / (7.0 * px), 1.0) < 0.15;
        bool rim = at.y > top - 1.5 * px || at.y < w.g + 1.5 * px;
        ink.rgb = rim ? INK : hatch ? vec3(0.55) : vec3(0.93, 0.92, 0.89);
      } else if (at.y < w.r && at.y > w.g) ink.rgb = vec3(0.975, 0.97, 0.955);
    }
    return;
  }
  vec2 g = (at - grid.xy) / grid.z;
  if (out_of(g)) return;
  ivec2 c = ivec2(floor(g)), corner = ivec2(floor(g - 0.5));
  vec2 part = g - 0.5 - vec2(corner);
  vec4 h = vec4(height(corner), height(corner + ivec2(1, 0)), height(corner + ivec2(0, 1)), height(corner + 1));
  h = max(h, vec4(max(under(c.y), -1e4)));
  float low = min(min(h.x, h.y), min(h.z, h.w)), high = max(max(h.x, h.y), max(h.z, h.w));
  float level = mix(mix(h.x, h.y, part.x), mix(h.z, h.w, part.x), part.y);
  float share = (level - low) / max(high - low, 1e-6), wide = 1.2 * px / grid.z;
  if (wide < 0.6) { // cells are larger than what is seen of them: their steps would show
    float open = max(under(c.y), -1e4);
    vec4 far = max(vec4(height(corner - 1), height(corner + ivec2(2, -1)), height(corner + ivec2(-1, 2)), height(corner + 2)), open);
    float least = min(low, min(min(far.x, far.y), min(far.z, far.w))), most = max(high, max(max(far.x, far.y), max(far.z, far.w)));
    if (most - least > STEEP) {
      vec3 found = rounded(corner, part, open);
      share = found.x;
      low = found.y;
      high = found.z;
      wide *= 0.67; // a rounded step is that much less steep
    }
  }
  bool wall = high - low > STEEP; // between the cells: drawn where it is met half way
  if (wall) level = share > 0.5 ? high : low;
  if (wall && abs(share - 0.5) < wide) { ink.rgb = INK; return; }
  if (level <= under(c.y) + 1e-3) return; // a way through
  float deep = clamp(-level / max(-lowest, 0.1), 0.0, 1.0);
  ink.rgb = vec3(mix(0.93, 0.62, deep)) * vec3(1.0, 0.995, 0.975);
  float since = now - surface(c).r;
  if (level < -1e-3 && since >= 0.0 && since < fresh) ink.rgb = mix(ink.rgb, NEW, 0.5 * (1.0 - since / fresh));
  ink.rgb = min(ink.rgb, vec3(1.0));
}`;

const LINES = `#version 300 es
in vec3 point; in float kind; uniform vec4 window; uniform float along; flat out int sort;
void main() {
  vec2 p = along > 0.5 ? point.xz : point.xy;
  sort = int(kind + 0.5);
  gl_Position = vec4((p - window.xy) / (window.zw - window.xy) * 2.0 - 1.0, 0.0, 1.0);
}`;
const STROKE = `#version 300 es
precision highp float; flat in int sort; uniform vec4 colours[16]; out vec4 ink;
void main() { ink = colours[sort]; if (ink.a <= 0.0) discard; }`;

const CHUNK = 256; // points of a path that are drawn or left out together

/** Draws one side at a time. `side`: {meta, points, ends, kind, events, walls}. */
export class FaceView {
  constructor(canvas) {
    this.canvas = canvas;
    const gl = canvas.getContext("webgl2", { antialias: true, alpha: false, preserveDrawingBuffer: true });
    this.gl = gl;
    if (!gl) return;
    this.surface = program(gl, QUAD, SURFACE);
    this.lines = program(gl, LINES, STROKE);
    this.quad = gl.createBuffer();
    gl.bindBuffer(gl.ARRAY_BUFFER, this.quad);
    gl.bufferData(gl.ARRAY_BUFFER, new Float32Array([-1, -1, 1, -1, -1, 1, 1, 1]), gl.STATIC_DRAW);
    this.points = gl.createBuffer();
    this.kinds = gl.createBuffer();
    this.shape = gl.createBuffer();
    this.quadArray = vertices(gl, [[this.quad, this.surface.at("corner"), 2, gl.FLOAT]]);
    this.pathArray = vertices(gl, [
      [this.points, this.lines.at("point"), 3, gl.FLOAT],
      [this.kinds, this.lines.at("kind"), 1, gl.UNSIGNED_BYTE],
    ]);
    this.shapeArray = vertices(gl, [[this.shape, this.lines.at("point"), 3, gl.FLOAT]]);
    gl.enable(gl.SCISSOR_TEST);
    gl.enable(gl.BLEND);
    gl.blendFunc(gl.SRC_ALPHA, gl.ONE_MINUS_SRC_ALPHA);
    this.colours = new Float32Array(64);
  }

  /** Take a side's arrays to the card. */
  load(side) {
    const gl = this.gl;
    this.side = side;
    gl.bindBuffer(gl.ARRAY_BUFFER, this.points);
    gl.bufferData(gl.ARRAY_BUFFER, side.points, gl.STATIC_DRAW);
    const kinds = new Uint8Array(side.points.length / 3);
    for (let m = 0, p = 1; m < side.ends.length; m++) for (; p <= side.ends[m]; p++) kinds[p] = side.kind[m];
    gl.bindBuffer(gl.ARRAY_BUFFER, this.kinds);
    gl.bufferData(gl.ARRAY_BUFFER, kinds, gl.STATIC_DRAW);
    this.chunks = extents(side.points);
    if (side.events) this.loadSurface(side);
  }

  loadSurface({ meta, events, walls }) {
    const gl = this.gl;
    const [layers, rows, cols] = events.shape;
    this.events = texture(gl, this.events, gl.TEXTURE_2D_ARRAY);
    gl.texImage3D(gl.TEXTURE_2D_ARRAY, 0, gl.R32UI, cols, rows, layers, 0, gl.RED_INTEGER, gl.UNSIGNED_INT, events);
    this.walls = texture(gl, this.walls, gl.TEXTURE_2D);
    gl.texImage2D(gl.TEXTURE_2D, 0, gl.RG32F, rows, walls.shape[0], 0, gl.RG, gl.FLOAT, walls);
    const { program: p, at } = this.surface;
    gl.useProgram(p);
    gl.uniform1i(at("events"), 0);
    gl.uniform1i(at("walls"), 1);
    gl.uniform1i(at("layers"), layers);
    gl.uniform1i(at("intervals"), walls.shape[0]);
    gl.uniform3f(at("grid"), ...meta.grid);
    gl.uniform2f(at("cells"), cols, rows);
    gl.uniform2f(at("code"), meta.code.top, meta.code.step);
    gl.uniform1f(at("lowest"), meta.lowest);
  }

  /** Begin a part of the canvas: `box` [left, top, width, height] in its own pixels, `window` [x0, y0, x1, y1] in mm. */
  part(box, window, along = false) {
    const gl = this.gl;
    const [left, top, width, height] = box;
    const low = this.canvas.height - top - height;
    gl.viewport(left, low, width, height);
    gl.scissor(left, low, width, height);
    this.now = { window, along, px: (window[2] - window[0]) / width };
  }

  blank() {
    this.gl.clearColor(1, 0.996, 0.984, 1);
    this.gl.clear(this.gl.COLOR_BUFFER_BIT);
  }

  /** The surface after motion `move`; what the last `fresh` motions cut is tinted. `row`: s at which it is cut open. */
  face(move, fresh = 0, row = 0) {
    const gl = this.gl;
    const { program: p, at } = this.surface;
    gl.useProgram(p);
    gl.bindVertexArray(this.quadArray);
    gl.uniform4fv(at("window"), this.now.window);
    const shift = 2 ** this.side.meta.code.shift;
    gl.uniform1f(at("now"), Math.floor((move + 1) / shift));
    gl.uniform1f(at("fresh"), fresh / shift);
    gl.uniform1f(at("px"), this.now.px);
    gl.uniform1f(at("along"), this.now.along ? 1 : 0);
    gl.uniform1f(at("row"), row);
    gl.activeTexture(gl.TEXTURE0);
    gl.bindTexture(gl.TEXTURE_2D_ARRAY, this.events);
    gl.activeTexture(gl.TEXTURE1);
    gl.bindTexture(gl.TEXTURE_2D, this.walls);
    gl.drawArrays(gl.TRIANGLE_STRIP, 0, 4);
  }

  /** The path from one point of it to another, as far as it comes near the window; every kind in its colour [r, g, b, a], a of 0 hides it. */
  path(from, to, colours) {
    this.stroke(colours.flat());
    this.gl.bindVertexArray(this.pathArray);
    const [x0, s0, x1, s1] = this.now.window;
    const box = this.chunks;
    let begin = -1; // of what is to be drawn next, -1 for nothing
    for (let at = from; at < to; at = (Math.floor(at / CHUNK) + 1) * CHUNK) {
      const k = 4 * Math.floor(at / CHUNK);
      const near = box[k] <= x1 && box[k + 1] <= s1 && box[k + 2] >= x0 && box[k + 3] >= s0;
      if (near && begin < 0) begin = at;
      if (!near && begin >= 0) this.gl.drawArrays(this.gl.LINE_STRIP, begin, at - begin + 1);
      if (!near) begin = -1;
    }
    if (begin >= 0) this.gl.drawArrays(this.gl.LINE_STRIP, begin, to - begin + 1);
  }

  /** A line round points (x, s, n). */
  outline(points, colour) {
    this.put(points, colour);
    this.gl.drawArrays(this.gl.LINE_LOOP, 0, points.length / 3);
  }

  /** The area between two flanks, their points (x, s, n) in turns. */
  fill(points, colour) {
    this.put(points, colour);
    this.gl.drawArrays(this.gl.TRIANGLE_STRIP, 0, points.length / 3);
  }

  put(points, colour) {
    const gl = this.gl;
    gl.bindBuffer(gl.ARRAY_BUFFER, this.shape);
    gl.bufferData(gl.ARRAY_BUFFER, points, gl.STREAM_DRAW);
    gl.bindVertexArray(this.shapeArray);
    gl.vertexAttrib1f(this.lines.at("kind"), 0);
    this.stroke(colour);
  }

  stroke(colours) {
    const gl = this.gl;
    const { program: p, at } = this.lines;
    gl.useProgram(p);
    this.colours.fill(0);
    this.colours.set(colours);
    gl.uniform4fv(at("colours"), this.colours);
    gl.uniform4fv(at("window"), this.now.window);
    gl.uniform1f(at("along"), this.now.along ? 1 : 0);
  }
}

/** Where the points (x, s, n) of every chunk lie, its way to the next one's first point with it: x0, s0, x1, s1 of each in turn. */
function extents(points) {
  const count = points.length / 3;
  const made = new Float32Array(4 * Math.ceil(count / CHUNK));
  for (let begin = 0, at = 0; begin < count; begin += CHUNK, at += 4) {
    made.set([Infinity, Infinity, -Infinity, -Infinity], at);
    for (let p = begin; p <= Math.min(begin + CHUNK, count - 1); p++) {
      for (const k of [0, 1]) {
        made[at + k] = Math.min(made[at + k], points[3 * p + k]);
        made[at + 2 + k] = Math.max(made[at + 2 + k], points[3 * p + k]);
      }
    }
  }
  return made;
}

function texture(gl, old, target) {
  if (old) gl.deleteTexture(old);
  const made = gl.createTexture();
  gl.bindTexture(target, made);
  for (const name of [gl.TEXTURE_MIN_FILTER, gl.TEXTURE_MAG_FILTER]) gl.texParameteri(target, name, gl.NEAREST);
  for (const name of [gl.TEXTURE_WRAP_S, gl.TEXTURE_WRAP_T]) gl.texParameteri(target, name, gl.CLAMP_TO_EDGE);
  return made;
}

/** The arrays of side `k` of a picture's data, by their plain names, and its meta. */
export function sideOf({ meta, arrays }, k) {
  const side = { meta: meta.sides[k] };
  for (const [name, array] of Object.entries(arrays)) {
    const [number, plain] = name.split(".");
    if (Number(number) === k) side[plain] = array;
  }
  return side;
}

const DECODER = new TextDecoder();

/** A line of a side's programs as it is written. */
export function lineText({ text, starts, first }, program, line) {
  const k = first[program] + line - 1;
  return DECODER.decode(text.subarray(starts[k], starts[k + 1])).trim();
}

/** Colours of kinds of motion, by their place in the list of kinds (Okabe and Ito's palette). */
export const KIND_COLOURS = ["#8f8d86", "#0072b2", "#009e73", "#d55e00", "#cc79a7", "#56b4e9", "#000000", "#8a5a00", "#e69f00", "#565550"];

/** #rrggbb and a share as [r, g, b, a]. */
export function rgba(hex, alpha) {
  return [...[1, 3, 5].map((i) => parseInt(hex.slice(i, i + 2), 16) / 255), alpha];
}
