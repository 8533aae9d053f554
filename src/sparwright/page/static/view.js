// A view in three dimensions: drawn only when something changed, turned by pointer or keys.

import { program, vertices } from "./card.js";
import { make } from "./dom.js";

const TURN = Math.PI / 24;
const PLACE = `#version 300 es
in vec3 point; in vec3 colour; uniform mat3 axes; uniform vec3 middle, scale; out vec3 seen, paint;
void main() {
  seen = (point - middle) * axes; // to the right, up, towards the eye
  paint = colour;
  gl_Position = vec4(seen * scale, 1.0);
}`;
const FLAT = `#version 300 es
precision highp float; in vec3 seen, paint; uniform vec3 sky; uniform float lit; out vec4 ink;
const vec3 LOW = vec3(0.48, 0.456, 0.392);
vec3 light(vec3 c) { return mix(c / 12.92, pow((c + 0.055) / 1.055, vec3(2.4)), step(0.0404, c)); }
vec3 screen(vec3 c) { return mix(c * 12.92, 1.055 * pow(c, vec3(1.0 / 2.4)) - 0.055, step(0.0031, c)); }
void main() {
  vec3 across = normalize(cross(dFdx(seen), dFdy(seen))); // of the triangle, towards the eye
  vec3 falls = 0.7 * mix(LOW, vec3(1.0), 0.5 + 0.5 * dot(across, sky)) + 0.446 * max(across.z, 0.0);
  ink = vec4(lit > 0.5 ? screen(min(light(paint) * falls, 1.0)) : paint, 1.0);
}`;

export class View {
  constructor(host) {
    this.keys = "Arrow keys turn it, plus and minus bring it nearer, 0 puts it back.";
    this.canvas = make("canvas", { tabindex: "0", role: "img" });
    host.append(this.canvas, make("p", { class: "keys" }, `Drag to turn. ${this.keys}`));
    this.host = host;
    this.gl = this.canvas.getContext("webgl2", { antialias: devicePixelRatio < 1.5 });
    if (!this.gl) {
      this.canvas.replaceWith(make("p", { class: "waiting" }, "This browser shows nothing in three dimensions."));
      return;
    }
    this.prepare();
    this.hold();
    this.canvas.addEventListener("keydown", (event) => this.key(event));
    this.canvas.addEventListener("webglcontextlost", (event) => event.preventDefault());
    this.canvas.addEventListener("webglcontextrestored", () => {
      this.prepare();
      this.load();
    });
    new ResizeObserver(() => this.size()).observe(host);
  }

  prepare() {
    const gl = this.gl;
    this.drawing = program(gl, PLACE, FLAT);
    const at = this.drawing.at;
    [this.points, this.colours, this.ends] = [0, 1, 2].map(() => gl.createBuffer());
    this.faceArray = vertices(gl, [
      [this.points, at("point"), 3, gl.FLOAT],
      [this.colours, at("colour"), 3, gl.FLOAT],
    ]);
    this.lineArray = vertices(gl, [[this.ends, at("point"), 3, gl.FLOAT]]);
    gl.enable(gl.DEPTH_TEST);
    gl.depthFunc(gl.LEQUAL);
    gl.polygonOffset(1, 1);
  }

  /**
   * Show triangles and lines, and look at a box from `low` to `high`; the way it is turned stays once it was chosen.
   * shape: points of the triangles, three numbers each, mm; colours of those points (sRGB, 0 to 1); ends of the lines, mm;
   * ink of the lines.
   */
  show(shape, low, high) {
    Object.assign(this, { shape, low, high });
    if (!this.turned) this.home();
    if (!this.gl) return;
    this.load();
    this.size();
  }

  load() {
    const gl = this.gl;
    for (const [buffer, data] of [[this.points, this.shape.points], [this.colours, this.shape.colours], [this.ends, this.shape.ends]]) {
      gl.bindBuffer(gl.ARRAY_BUFFER, buffer);
      gl.bufferData(gl.ARRAY_BUFFER, data, gl.STATIC_DRAW);
    }
    this.later();
  }

  home() {
    this.turned = { round: Math.atan2(-1, -0.42), down: 1.139 };
    this.moved = [0, 0, 0];
    this.zoom = 1;
  }

  /** Right, up and towards the eye, as directions of the member. */
  axes() {
    const { round, down } = this.turned;
    const [c, s, high, far] = [Math.cos(round), Math.sin(round), Math.cos(down), Math.sin(down)];
    return [[-s, c, 0], [-high * c, -high * s, far], [far * c, far * s, high]];
  }

  size() {
    if (!this.gl || !this.low) return;
    const width = Math.max(this.host.clientWidth, 120);
    const height = Math.round(Math.min(Math.max(width * 0.42, 180), 520));
    const fine = Math.min(devicePixelRatio, 2);
    this.canvas.style.height = `${height}px`;
    this.canvas.width = Math.floor(width * fine);
    this.canvas.height = Math.floor(height * fine);
    const half = (axis) => axis.reduce((sum, a, k) => sum + (Math.abs(a) * (this.high[k] - this.low[k])) / 2, 0);
    const [right, up] = this.axes();
    this.reach = Math.max(half(right) / width, half(up) / height) * 2.24;
    this.extent = [width, height];
    this.later();
  }

  turn(round, down) {
    this.turned.round += round;
    this.turned.down = Math.min(Math.max(this.turned.down + down, 0.05), Math.PI - 0.05);
  }

  /** Move what is seen by pixels of the screen. */
  move(x, y) {
    const [right, up] = this.axes();
    const px = this.reach / this.zoom;
    this.moved = this.moved.map((m, k) => m - px * (x * right[k] - y * up[k]));
  }

  /** One pointer turns; with the second button or a key held it moves; two move and bring nearer. The wheel scrolls the page. */
  hold() {
    const held = new Map();
    const [canvas, letGo] = [this.canvas, (event) => held.delete(event.pointerId)];
    canvas.style.touchAction = "none";
    canvas.addEventListener("contextmenu", (event) => event.preventDefault());
    canvas.addEventListener("pointerdown", (event) => {
      canvas.setPointerCapture(event.pointerId);
      held.set(event.pointerId, [event.clientX, event.clientY]);
    });
    for (const name of ["pointerup", "pointercancel", "lostpointercapture"]) canvas.addEventListener(name, letGo);
    canvas.addEventListener("pointermove", (event) => {
      const before = held.get(event.pointerId);
      if (!before) return;
      const now = [event.clientX, event.clientY];
      held.set(event.pointerId, now);
      const [x, y] = [now[0] - before[0], now[1] - before[1]];
      if (held.size > 1) {
        const other = [...held].find(([id]) => id !== event.pointerId)[1];
        const apart = (p) => Math.max(Math.hypot(p[0] - other[0], p[1] - other[1]), 1);
        this.zoom *= apart(now) / apart(before);
        this.move(x / 2, y / 2);
      } else if (event.buttons & 6 || event.shiftKey || event.ctrlKey || event.metaKey) this.move(x, y);
      else this.turn((-2 * Math.PI * x) / this.extent[1], (-2 * Math.PI * y) / this.extent[1]);
      this.later();
    });
  }

  key(event) {
    const turn = { ArrowLeft: [-TURN, 0], ArrowRight: [TURN, 0], ArrowUp: [0, -TURN], ArrowDown: [0, TURN] }[event.key];
    if (turn) this.turn(...turn);
    else if (event.key === "+" || event.key === "=") this.zoom *= 1.2;
    else if (event.key === "-") this.zoom /= 1.2;
    else if (event.key === "0") this.home();
    else return;
    event.preventDefault();
    this.size();
  }

  /** Draw at the next frame, once. */
  later() {
    if (this.waiting) return;
    this.waiting = true;
    requestAnimationFrame(() => {
      this.waiting = false;
      this.draw();
      this.canvas.dataset.drawn = String(Number(this.canvas.dataset.drawn ?? 0) + 1);
    });
  }

  draw() {
    const gl = this.gl;
    const { program: p, at } = this.drawing;
    const axes = this.axes();
    const [low, high] = [this.low, this.high];
    const deep = Math.hypot(...high.map((h, k) => h - low[k])) / 2 + Math.hypot(...this.moved) + 1;
    const near = (2 * this.zoom) / this.reach;
    gl.viewport(0, 0, this.canvas.width, this.canvas.height);
    gl.clear(gl.COLOR_BUFFER_BIT | gl.DEPTH_BUFFER_BIT);
    gl.useProgram(p);
    gl.uniformMatrix3fv(at("axes"), false, axes.flat());
    gl.uniform3fv(at("middle"), low.map((l, k) => (l + high[k]) / 2 + this.moved[k]));
    gl.uniform3f(at("scale"), near / this.extent[0], near / this.extent[1], -1 / deep);
    gl.uniform3fv(at("sky"), axes.map((axis) => axis[2]));
    gl.uniform1f(at("lit"), 1);
    gl.enable(gl.POLYGON_OFFSET_FILL); // the lines lie before the faces they bound
    gl.bindVertexArray(this.faceArray);
    gl.drawArrays(gl.TRIANGLES, 0, this.shape.points.length / 3);
    gl.uniform1f(at("lit"), 0);
    gl.disable(gl.POLYGON_OFFSET_FILL); // some cards shift lines too
    gl.bindVertexArray(this.lineArray);
    gl.vertexAttrib3fv(at("colour"), this.shape.ink);
    gl.drawArrays(gl.LINES, 0, this.shape.ends.length / 3);
  }
}
