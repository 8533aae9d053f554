// Maps of the metal left, face by face, in strips from the datum end on; a place is read off by pointer or arrow keys.

import { cividis } from "../cividis.js";
import { make, say } from "../dom.js";
import { sideOf } from "../faceview.js";
import { figure, inward, keyStep, outward, short, size, unitsShown } from "../units.js";

const GAP = 12;
const TALLEST = 300; // px of a strip
const READABLE = 1.9; // px for a millimetre, so that figures have room
const MOST_STRIPS = 6;
const EDGE = "#1d1d1b";

/** data.meta: sides. data.arrays: of every face, see pictures/thickness.py. */
export function draw(host, data) {
  let maps = [];
  const update = (newer) => {
    host.replaceChildren();
    maps = newer.meta.sides.map((_, k) => new Face(host, sideOf(newer, k)));
    if (maps.length === 0) host.append(make("p", { class: "waiting" }, "No face is cut."));
  };
  new ResizeObserver(() => maps.forEach((map) => map.draw())).observe(host);
  update(data);
  return { update };
}

class Face {
  constructor(host, side) {
    this.side = side;
    this.at = null;
    this.canvas = make("canvas", { tabindex: "0", role: "img", "aria-label": `Metal left on ${side.meta.words} Arrow keys read off places, with shift by ${short(10 * keyStep(), 1)}.` });
    this.words = make("p", { class: "read", role: "status" });
    this.host = host;
    host.append(make("div", { class: "face" }, make("h3", {}, side.meta.side), legend(side.meta.top_mm), this.canvas, this.words));
    this.canvas.addEventListener("pointermove", (event) => this.point(event));
    this.canvas.addEventListener("pointerdown", (event) => this.point(event));
    this.canvas.addEventListener("keydown", (event) => this.key(event));
    this.image = this.picture();
    this.draw();
  }

  /** The field as pixels, drawn once. */
  picture() {
    const { left, meta } = this.side;
    const [rows, cols] = left.shape;
    const image = new ImageData(cols, rows);
    const table = Array.from({ length: 257 }, (_, i) => cividis(i / 256).map((c) => Math.round(255 * c)));
    for (let row = 0; row < rows; row++) {
      for (let col = 0; col < cols; col++) {
        const value = left[row * cols + col];
        if (value < 1e-3) continue; // open, or never metal: paper
        const colour = table[Math.min(Math.round((value / meta.top_mm) * 256), 256)];
        image.data.set([...colour, 255], 4 * ((rows - 1 - row) * cols + col));
      }
    }
    const canvas = document.createElement("canvas");
    Object.assign(canvas, { width: cols, height: rows });
    canvas.getContext("2d").putImageData(image, 0, 0);
    return canvas;
  }

  draw() {
    const { low, high } = this.side.meta;
    const ratio = Math.min(devicePixelRatio, 2);
    const width = Math.max(this.host.clientWidth - 24, 120);
    const [long, wide] = [high[0] - low[0], high[1] - low[1]];
    const count = Math.min(Math.max(Math.ceil((READABLE * long) / width), 1), MOST_STRIPS);
    const scale = Math.min(width / (long / count), TALLEST / wide);
    this.scale = scale;
    this.strips = Array.from({ length: count }, (_, k) => ({ from: low[0] + (k * long) / count, to: low[0] + ((k + 1) * long) / count, top: k * (wide * scale + GAP + 16) }));
    const height = count * (wide * scale + GAP + 16);
    Object.assign(this.canvas, { width: width * ratio, height: height * ratio });
    this.canvas.style.height = `${height}px`;
    const pen = this.canvas.getContext("2d");
    pen.scale(ratio, ratio);
    for (const strip of this.strips) this.strip(pen, strip);
  }

  strip(pen, { from, to, top }) {
    const { meta, lines } = this.side;
    const [x0, s0, cell] = meta.grid;
    const { low, high } = meta;
    const { scale } = this;
    const [width, height] = [(to - from) * scale, (high[1] - low[1]) * scale];
    pen.save();
    pen.beginPath();
    pen.rect(0, top, width, height);
    pen.clip();
    const tall = this.image.height * cell * scale;
    pen.drawImage(this.image, (x0 - from) * scale, top + height - (s0 - low[1]) * scale - tall, this.image.width * cell * scale, tall);
    pen.beginPath();
    for (let i = 0; i < lines.length; i += 4) {
      pen.moveTo((lines[i] - from) * scale, top + (high[1] - lines[i + 1]) * scale);
      pen.lineTo((lines[i + 2] - from) * scale, top + (high[1] - lines[i + 3]) * scale);
    }
    pen.strokeStyle = EDGE;
    pen.lineWidth = 0.8;
    pen.stroke();
    this.figures(pen, from, top, width);
    this.cross(pen, from, to, top);
    pen.restore();
    pen.strokeStyle = EDGE;
    pen.strokeRect(0.5, top + 0.5, width - 1, height - 1);
    this.ruler(pen, from, to, top + height);
  }

  /** The least figure of each level place, where it has room. */
  figures(pen, from, top, width) {
    const { spots, high } = this.side.meta;
    pen.font = `13px ${getComputedStyle(this.canvas).fontFamily}`;
    pen.textAlign = "center";
    pen.lineWidth = 3;
    pen.strokeStyle = "#fffefb";
    pen.fillStyle = EDGE;
    for (const [x, s, left, room] of spots) {
      const text = outward(left).toFixed(unitsShown() === "inch" ? 3 : 2);
      const long = pen.measureText(text).width;
      const at = [(x - from) * this.scale, top + (high[1] - s) * this.scale + 4];
      if (room * this.scale < 0.9 * long || at[0] < long / 2 || at[0] > width - long / 2) continue;
      pen.strokeText(text, ...at);
      pen.fillText(text, ...at);
    }
  }

  cross(pen, from, to, top) {
    if (!this.at || this.at[0] < from || this.at[0] > to) return;
    const [x, y] = [(this.at[0] - from) * this.scale, top + (this.side.meta.high[1] - this.at[1]) * this.scale];
    for (const [colour, width] of [["#fffefb", 5], ["#a33d00", 2]]) {
      pen.strokeStyle = colour;
      pen.lineWidth = width;
      pen.beginPath();
      pen.arc(x, y, 6, 0, 2 * Math.PI);
      pen.stroke();
    }
    pen.lineWidth = 1;
  }

  ruler(pen, from, to, low) {
    const unit = inward(1);
    const step = [0.5, 1, 2, 5, 10, 20, 50, 100, 200, 500, 1000].find((k) => k * unit * this.scale > 60) ?? 2000;
    pen.fillStyle = EDGE;
    pen.font = `13px ${getComputedStyle(this.canvas).fontFamily}`;
    for (let x = Math.ceil(from / unit / step) * step; x * unit <= to + 1e-6; x += step) {
      const at = (x * unit - from) * this.scale;
      pen.fillRect(at, low, 1, 4);
      pen.textAlign = at < 16 ? "left" : at > (to - from) * this.scale - 16 ? "right" : "center";
      pen.fillText(`${x}`, at, low + 16);
    }
  }

  point(event) {
    const box = this.canvas.getBoundingClientRect();
    const [across, down] = [event.clientX - box.left, event.clientY - box.top];
    const strip = this.strips.findLast((s) => down >= s.top) ?? this.strips[0];
    this.read([strip.from + across / this.scale, this.side.meta.high[1] - (down - strip.top) / this.scale]);
  }

  key(event) {
    const by = keyStep() * (event.shiftKey ? 10 : 1);
    const move = { ArrowLeft: [-by, 0], ArrowRight: [by, 0], ArrowUp: [0, by], ArrowDown: [0, -by] }[event.key];
    if (!move) return;
    event.preventDefault();
    const { low, high } = this.side.meta;
    const at = this.at ?? [(low[0] + high[0]) / 2, (low[1] + high[1]) / 2];
    this.read([0, 1].map((k) => Math.min(Math.max(at[k] + move[k], low[k] + 1e-3), high[k] - 1e-3)));
  }

  read([x, s]) {
    const { left, meta } = this.side;
    const [rows, cols] = left.shape;
    const [col, row] = [Math.floor((x - meta.grid[0]) / meta.grid[2]), Math.floor((s - meta.grid[1]) / meta.grid[2])];
    if (col < 0 || row < 0 || col >= cols || row >= rows) return;
    this.at = [x, s];
    const value = left[row * cols + col];
    const metal = value < 0 ? "no metal here" : value < 1e-3 ? "open" : `${size(value, 2)} of metal left`;
    say(this.words, `x ${figure(x, 1)}, s ${size(s, 1)}: ${metal}`);
    this.draw();
  }
}

/** The colour scale. top: its upper end, mm. */
function legend(top) {
  const bar = make("canvas", { width: 200, height: 12, "aria-hidden": "true" });
  const pen = bar.getContext("2d");
  for (let i = 0; i < 200; i++) {
    pen.fillStyle = `rgb(${cividis(i / 199).map((c) => Math.round(255 * c)).join(" ")})`;
    pen.fillRect(i, 0, 1, 12);
  }
  return make("p", { class: "scale" }, make("span", {}, "0"), bar, make("span", {}, `${short(top, 2)} of metal left; figures are the least of each level place; white is open`));
}
