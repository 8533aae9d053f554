// Forces with their limits and engagement along the time of a side's programs, with a hand that is moved by pointer or keys.

import { make } from "./dom.js";
import { figure, outward, sign } from "./units.js";

const HEIGHT = 50;
const LEFT = 8; // px before the first moment and behind the last

export class TimeLine {
  /** moved(seconds or null, by): called with a moment, or with a number of motions to go on by. */
  constructor(host, moved) {
    this.canvas = make("canvas", { "aria-hidden": "true" });
    this.hand = make("div", { class: "hand" });
    this.element = make("div", {
      class: "timeline",
      role: "slider",
      tabindex: "0",
      "aria-label": "Moment in the programs, by motion",
      "aria-valuemin": "0",
    });
    this.element.append(this.canvas, this.hand);
    host.append(this.element);
    const point = (event) => moved(this.moment(event), 0);
    this.element.addEventListener("pointerdown", (event) => {
      this.element.setPointerCapture(event.pointerId);
      this.element.focus({ preventScroll: true });
      point(event);
    });
    this.element.addEventListener("pointermove", (event) => event.buttons && point(event));
    this.element.addEventListener("keydown", (event) => {
      const far = event.shiftKey ? 100 : 1;
      const by = { ArrowLeft: -far, ArrowDown: -far, ArrowRight: far, ArrowUp: far, PageUp: 1000, PageDown: -1000, Home: -Infinity, End: Infinity }[event.key];
      if (by === undefined) return;
      event.preventDefault();
      moved(null, by);
    });
    new ResizeObserver(() => this.side && this.draw()).observe(this.element);
  }

  load(side) {
    this.side = side;
    this.seconds = 0;
    this.total = side.seconds[side.seconds.length - 1] || 1;
    this.element.setAttribute("aria-valuemax", String(side.ends.length));
    this.draw();
  }

  moment(event) {
    const box = this.element.getBoundingClientRect();
    return (Math.min(Math.max(event.clientX - box.left - LEFT, 0), this.width) / this.width) * this.total;
  }

  /** Put the hand at a moment. */
  show(seconds, move, words) {
    this.seconds = seconds;
    this.place();
    this.element.setAttribute("aria-valuenow", String(move));
    this.element.setAttribute("aria-valuetext", words);
  }

  place() {
    this.hand.style.transform = `translateX(${LEFT + (this.seconds / this.total) * this.width}px)`;
  }

  draw() {
    const ratio = Math.min(devicePixelRatio, 2);
    const whole = Math.max(this.element.clientWidth, 120);
    this.width = whole - 2 * LEFT;
    this.place();
    const { steady, share, engaged, meta } = this.side;
    const curves = [
      [steady, `mean force, ${sign("N")}`, "#0072b2", meta.limit, `the machine takes ${figure(meta.limit, 0, "N")}`, "N"],
      [share, "tooth, % of what snaps its cutter", "#00664d", 100, ""],
      [engaged, "engagement, degrees", "#8a5a00", 0, ""],
    ];
    const tall = curves.length * HEIGHT + 24;
    Object.assign(this.canvas, { width: whole * ratio, height: tall * ratio });
    this.canvas.style.height = `${tall}px`;
    const pen = this.canvas.getContext("2d");
    pen.scale(ratio, ratio);
    const font = getComputedStyle(this.element).fontFamily;
    for (const [i, curve] of curves.entries()) this.curve(pen, i * HEIGHT, font, ...curve);
    this.axis(pen, curves.length * HEIGHT, font);
  }

  /** One curve: of every column of the screen the greatest that its time holds; `limit` is a line, 0 for none. */
  curve(pen, top, font, values, name, colour, limit, limited, unit = "") {
    const { seconds } = this.side;
    const best = new Float32Array(Math.floor(this.width) + 1);
    let most = 0;
    for (let m = 0, from = 0; m < values.length; m++) {
      const to = (seconds[m] / this.total) * (best.length - 1);
      for (let x = Math.floor(from); x <= to; x++) best[x] = Math.max(best[x], values[m]);
      most = Math.max(most, values[m]);
      from = to;
    }
    const floor = top + HEIGHT - 2;
    const high = (value) => (value / Math.max(most, limit, 1e-9)) * (HEIGHT - 20);
    for (let x = 0; x < best.length; x++) {
      const [up, over] = [high(best[x]), limit ? Math.max(high(best[x]) - high(limit), 0) : 0];
      pen.fillStyle = colour;
      pen.fillRect(LEFT + x, floor - up + over, 1, up - over);
      pen.fillStyle = "#1d1d1b";
      pen.fillRect(LEFT + x, floor - up, 1, over);
    }
    pen.fillStyle = "#1d1d1b";
    pen.fillRect(LEFT, floor, this.width, 1);
    for (let x = 0; limit && x < this.width; x += 12) pen.fillRect(LEFT + x, floor - high(limit) - 1, Math.min(7, this.width - x), 2);
    pen.font = `13px ${font}`;
    const greatest = outward(most, unit);
    pen.fillText([`${name}; greatest ${greatest.toFixed(greatest < 10 ? 1 : 0)}`, limited].filter(Boolean).join(", "), LEFT + 4, top + 12);
  }

  axis(pen, top, font) {
    const minutes = this.total / 60;
    const most = Math.max(2, this.width / 80);
    const step = [0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 30, 60, 120, 240, 600].find((s) => minutes / s <= most) ?? 1440;
    pen.font = `13px ${font}`;
    pen.textAlign = "center";
    for (let t = 0; t <= minutes + 1e-9; t += step) {
      const x = LEFT + (t / minutes) * this.width;
      pen.fillRect(x, top, 1, 5);
      const text = `${Number(t.toFixed(1))}${t ? "" : " min"}`;
      const half = pen.measureText(text).width / 2;
      pen.fillText(text, Math.min(Math.max(x, half), LEFT * 2 + this.width - half), top + 18);
    }
    pen.textAlign = "start";
  }
}
