// Paths by kind of cut: the whole side, and a window of it that is moved about; a motion is picked by pointer or keys.

import { make, say } from "../dom.js";
import { FaceView, KIND_COLOURS, lineText, rgba, sideOf } from "../faceview.js";
import { figure, size } from "../units.js";

const GAP = 8;
const REACH = 14; // px within which a motion is picked
const NEAREST = 6; // mm, the least window
const START = 120; // mm across at first

/** data.meta: sides, kinds. data.arrays: of every side, see pictures/paths.py. */
export function draw(host, data) {
  const paths = new Paths(host);
  paths.load(data);
  return { update: (newer) => paths.load(newer) };
}

class Paths {
  constructor(host) {
    this.host = host;
    this.hidden = new Set([0]); // rapids at first
    this.choice = make("select", { "aria-label": "side", onchange: () => this.take(Number(this.choice.value)) });
    this.kinds = make("fieldset", { class: "kinds" });
    this.canvas = make("canvas", { tabindex: "0", role: "img" });
    this.line = make("code");
    this.told = make("span");
    this.words = make("p", { class: "moment", role: "status" }, this.line, this.told);
    host.classList.add("playback");
    const keys = "Above, the whole side; the frame is what is shown below. Click a motion to see its line. With keys: arrows move the frame, plus and minus make it smaller and larger, 0 puts it back, Enter picks what is nearest its middle, full stop and comma go on and back by one motion.";
    host.append(make("div", { class: "bar" }, this.choice, this.kinds), this.canvas, this.words, make("p", { class: "keys" }, keys));
    this.view = new FaceView(this.canvas);
    this.canvas.addEventListener("pointerdown", (event) => this.press(event));
    this.canvas.addEventListener("pointermove", (event) => event.buttons && this.drag(event));
    this.canvas.addEventListener("pointerup", (event) => this.release(event));
    this.canvas.addEventListener("keydown", (event) => this.key(event));
    new ResizeObserver(() => this.side && (this.measure(), this.show())).observe(host);
  }

  load(data) {
    if (data.digest === this.data?.digest && this.side) {
      this.tell(); // the same, in other units
      return;
    }
    this.data = data;
    const names = data.meta.sides.map((s) => s.side);
    const before = this.side?.meta.side;
    this.choice.replaceChildren(...names.map((name, k) => make("option", { value: k }, name)));
    if (names.length === 0 || !this.view.gl) {
      say(this.told, "This browser cannot draw it.");
      return;
    }
    this.take(Math.max(names.indexOf(before ?? names.find((n) => n !== "pads")), 0));
  }

  take(k) {
    this.choice.value = String(k);
    this.side = sideOf(this.data, k);
    this.picked = -1;
    this.view.load(this.side);
    this.list();
    this.home();
    this.measure();
    this.canvas.setAttribute("aria-label", `Paths of side ${this.side.meta.side}: ${this.side.ends.length} motions.`);
    this.tell();
    this.show();
  }

  home() {
    const { low, high } = this.side.meta;
    this.middle = [(low[0] + high[0]) / 2, (low[1] + high[1]) / 2];
    this.across = Math.min(START, high[0] - low[0]);
  }

  /** A box to tick for every kind there is, with its minutes. */
  list() {
    const { minutes, metres } = this.side.meta;
    const rows = this.data.meta.kinds.flatMap((name, k) => {
      if (metres[k] <= 0) return [];
      const box = make("input", { type: "checkbox", checked: !this.hidden.has(k), onchange: () => this.hide(k, !box.checked) });
      const swatch = make("span", { class: "swatch", "aria-hidden": "true" });
      swatch.style.background = KIND_COLOURS[k];
      return [make("label", {}, box, swatch, `${name}, ${minutes[k].toFixed(1)} min`)];
    });
    this.kinds.replaceChildren(make("legend", {}, "shown"), ...rows);
  }

  hide(kind, away) {
    if (away) this.hidden.add(kind);
    else this.hidden.delete(kind);
    if (this.picked >= 0 && this.hidden.has(this.side.kind[this.picked])) this.pick(-1);
    this.show();
  }

  measure() {
    this.ratio = Math.min(devicePixelRatio, 2);
    const width = Math.max(this.host.clientWidth - 2 * GAP, 120);
    const { low, high } = this.side.meta;
    const [long, wide] = [high[0] - low[0] + 30, high[1] - low[1] + 30];
    const strip = Math.min(Math.max((width * wide) / long, 30), 220);
    const scale = Math.max(long / width, wide / strip);
    const tall = Math.min(Math.max(width * 0.4, 220), 420);
    this.boxes = { whole: [0, 0, width, strip], near: [0, strip + GAP, width, tall] };
    const centre = [(low[0] + high[0]) / 2, (low[1] + high[1]) / 2];
    this.whole = [centre[0] - (width * scale) / 2, centre[1] - (strip * scale) / 2, centre[0] + (width * scale) / 2, centre[1] + (strip * scale) / 2];
    const height = strip + GAP + tall;
    Object.assign(this.canvas, { width: Math.round(width * this.ratio), height: Math.round(height * this.ratio) });
    this.canvas.style.height = `${height}px`;
  }

  window() {
    const [, , width, tall] = this.boxes.near;
    const [halfX, halfS] = [this.across / 2, (this.across * tall) / width / 2];
    return [this.middle[0] - halfX, this.middle[1] - halfS, this.middle[0] + halfX, this.middle[1] + halfS];
  }

  /** Draw at the next frame, once. */
  show() {
    this.waiting ??= requestAnimationFrame(() => {
      this.waiting = null;
      this.paint();
    });
  }

  paint() {
    const { view, side } = this;
    const last = side.points.length / 3 - 1;
    const colours = (alpha) => this.data.meta.kinds.map((_, k) => rgba(KIND_COLOURS[k], this.hidden.has(k) ? 0 : k ? alpha : 0.45 * alpha));
    const box = (name) => this.boxes[name].map((v) => Math.round(v * this.ratio));
    const near = this.window();
    view.part([0, 0, this.canvas.width, this.canvas.height], near);
    view.blank();
    for (const [name, window] of [["whole", this.whole], ["near", near]]) {
      view.part(box(name), window);
      view.outline(corners([...side.meta.low, ...side.meta.high]), rgba("#1d1d1b", 1));
      view.path(0, last, colours(name === "near" ? 0.95 : 0.6));
      if (this.picked >= 0) this.lit(view, window);
      view.outline(corners(near), rgba("#1d1d1b", 1));
    }
    this.canvas.dataset.drawn = String(Number(this.canvas.dataset.drawn ?? 0) + 1);
  }

  /** A ring round both ends of the motion picked, and the motion in black. */
  lit(view, window) {
    const { points, ends } = this.side;
    const from = this.picked ? ends[this.picked - 1] : 0;
    view.path(from, ends[this.picked], this.data.meta.kinds.map(() => [0, 0, 0, 1]));
    const radius = (window[2] - window[0]) / 220;
    for (const p of [from, ends[this.picked]]) {
      const ring = new Float32Array(72);
      for (let k = 0; k < 24; k++) ring.set([points[3 * p] + radius * Math.cos((k * Math.PI) / 12), points[3 * p + 1] + radius * Math.sin((k * Math.PI) / 12), 0], 3 * k);
      view.outline(ring, [0, 0, 0, 1]);
    }
  }

  /** The place in mm under the pointer, and in which part. */
  place(event) {
    const at = this.canvas.getBoundingClientRect();
    const [left, top] = [event.clientX - at.left, event.clientY - at.top];
    const name = top < this.boxes.near[1] ? "whole" : "near";
    const [, high, width, tall] = this.boxes[name];
    const [x0, s0, x1, s1] = name === "whole" ? this.whole : this.window();
    return { name, at: [x0 + (left / width) * (x1 - x0), s1 - ((top - high) / tall) * (s1 - s0)] };
  }

  press(event) {
    this.canvas.setPointerCapture(event.pointerId);
    this.from = { ...this.place(event), client: [event.clientX, event.clientY], moved: false };
    if (this.from.name === "whole") this.to(this.from.at);
  }

  drag(event) {
    if (!this.from) return;
    if (Math.hypot(event.clientX - this.from.client[0], event.clientY - this.from.client[1]) > 4) this.from.moved = true;
    const { at } = this.place(event);
    if (this.from.name === "whole") this.to(at);
    else if (this.from.moved) this.to([0, 1].map((k) => this.middle[k] + this.from.at[k] - at[k]));
  }

  release(event) {
    if (this.from && !this.from.moved && this.from.name === "near") this.pick(this.nearest(this.place(event).at, (REACH * this.across) / this.boxes.near[2]));
    this.from = null;
  }

  to(at) {
    const { low, high } = this.side.meta;
    this.middle = at.map((v, k) => Math.min(Math.max(v, low[k]), high[k]));
    this.show();
  }

  key(event) {
    const step = this.across / 10;
    const move = { ArrowLeft: [-step, 0], ArrowRight: [step, 0], ArrowUp: [0, step], ArrowDown: [0, -step] }[event.key];
    if (move) this.to([0, 1].map((k) => this.middle[k] + move[k]));
    else if (event.key === "+" || event.key === "=") this.wide(0.8);
    else if (event.key === "-") this.wide(1.25);
    else if (event.key === "0") this.home();
    else if (event.key === "Enter") this.pick(this.nearest(this.middle, Infinity));
    else if (event.key === "." || event.key === ",") this.next(event.key === "." ? 1 : -1);
    else return;
    event.preventDefault();
    this.show();
  }

  wide(by) {
    const { low, high } = this.side.meta;
    this.across = Math.min(Math.max(this.across * by, NEAREST), high[0] - low[0]);
  }

  /** The next motion of a kind that is shown, brought into the frame. */
  next(by) {
    let move = this.picked;
    do move += by;
    while (move >= 0 && move < this.side.ends.length && this.hidden.has(this.side.kind[move]));
    if (move < 0 || move >= this.side.ends.length) return;
    this.pick(move);
    const p = 3 * this.side.ends[move];
    const [x0, s0, x1, s1] = this.window();
    const [x, s] = [this.side.points[p], this.side.points[p + 1]];
    if (x < x0 || x > x1 || s < s0 || s > s1) this.to([x, s]);
  }

  /** The motion shown that comes nearest a place, within `reach` mm; the last of several; -1 for none. */
  nearest([x, s], reach) {
    const { points, ends, kind } = this.side;
    let [best, found] = [reach * reach, -1];
    for (let m = 0, p = 0; m < ends.length; m++) {
      const away = this.hidden.has(kind[m]);
      for (; p < ends[m]; p++) {
        if (away) continue;
        const [ax, as] = [points[3 * p] - x, points[3 * p + 1] - s];
        const [dx, ds] = [points[3 * p + 3] - x - ax, points[3 * p + 4] - s - as];
        const long = dx * dx + ds * ds;
        const share = long > 0 ? Math.min(Math.max(-(ax * dx + as * ds) / long, 0), 1) : 0;
        const far = (ax + share * dx) ** 2 + (as + share * ds) ** 2;
        if (far <= best) [best, found] = [far, m];
      }
    }
    return found;
  }

  pick(move) {
    this.picked = move;
    this.tell();
    this.show();
  }

  tell() {
    const { side, picked: m } = this;
    if (m < 0) {
      say(this.line, "");
      say(this.told, "No motion is picked.");
      return;
    }
    const p = 3 * side.ends[m];
    say(this.line, lineText(side, side.program[m], side.line[m]));
    const feed = side.feed[m] > 0 ? size(side.feed[m], 0, "mm/min") : "as fast as it goes";
    say(this.told, ` line ${side.line[m]} of ${side.meta.programs[side.program[m]]}; ${this.data.meta.kinds[side.kind[m]]}, ${feed}; to x ${figure(side.points[p], 2)}, s ${figure(side.points[p + 1], 2)}, ${size(side.points[p + 2], 2)} from the face`);
  }
}

function corners([x0, s0, x1, s1]) {
  return new Float32Array([x0, s0, 0, x1, s0, 0, x1, s1, 0, x0, s1, 0]);
}
