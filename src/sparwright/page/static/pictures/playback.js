// The programs of a side, cut move by move: the whole face, round the cutter, and cut open along the cutter's middle.

import { make, say } from "../dom.js";
import { FaceView, KIND_COLOURS, lineText, rgba, sideOf } from "../faceview.js";
import { TimeLine } from "../timeline.js";
import { size } from "../units.js";

const GAP = 8;
const NEAR = 44; // mm shown across, round the cutter
const RECENT = 400; // motions whose path is drawn strongly
const FRESH = 300; // motions whose cut is tinted
const SPEEDS = [[1, "as cut"], [10, "10 times"], [60, "a minute a second"], [600, "10 minutes a second"]];
const ROUND = 40;

/** data.meta: sides, kinds. data.arrays: of every side, see pictures/playback.py. */
export function draw(host, data) {
  const player = new Player(host);
  player.load(data);
  window.sparwright = Object.assign(window.sparwright ?? {}, { seek: (move) => player.timed(move) });
  return { update: (newer) => player.load(newer) };
}

class Player {
  constructor(host) {
    this.move = 0;
    this.choice = make("select", { "aria-label": "side", onchange: () => this.take(Number(this.choice.value)) });
    this.button = make("button", { type: "button", onclick: () => this.toggle() }, "Run");
    this.speed = make("select", { "aria-label": "how fast" }, ...SPEEDS.map(([k, words]) => make("option", { value: k }, words)));
    this.speed.value = "60";
    this.clock = make("span", { class: "clock" });
    this.canvas = make("canvas", { role: "img" });
    this.line = make("code");
    this.words = make("p", { class: "moment" }, this.line);
    this.told = make("span");
    this.words.append(this.told);
    host.classList.add("playback");
    host.append(make("div", { class: "bar" }, this.choice, this.button, this.speed, this.clock), this.canvas);
    this.time = new TimeLine(host, (seconds, by) => this.moved(seconds, by));
    host.append(this.words, make("p", { class: "keys" }, "Above, the whole face; below it, round the cutter, and cut open along the cutter's middle. Dashed on the time line: what the machine takes, and what snaps the cutter. There, arrow keys go on by one motion, with shift by 100, page keys by 1000, Home and End to the ends; space runs and stops."));
    host.addEventListener("keydown", (event) => {
      if (event.key !== " " || event.target instanceof HTMLButtonElement || event.target instanceof HTMLSelectElement) return;
      event.preventDefault();
      this.toggle();
    });
    this.host = host;
    this.view = new FaceView(this.canvas);
    this.shape = new Float32Array(12 * 32);
    new ResizeObserver(() => this.side && (this.measure(), this.show())).observe(host);
  }

  load(data) {
    if (data.digest === this.data?.digest && this.side) {
      this.time.draw(); // the same, in other units
      this.tell();
      return;
    }
    this.stop();
    this.data = data;
    const before = this.side?.meta.side;
    const names = data.meta.sides.map((s) => s.side);
    this.choice.replaceChildren(...names.map((name, k) => make("option", { value: k }, name)));
    if (names.length === 0 || !this.view.gl) {
      say(this.told, "This browser cannot draw it.");
      return;
    }
    this.take(Math.max(names.indexOf(before ?? names.find((n) => n !== "pads")), 0));
  }

  take(k) {
    this.stop();
    this.choice.value = String(k);
    this.side = sideOf(this.data, k);
    this.count = this.side.ends.length;
    this.view.load(this.side);
    this.colours = this.data.meta.kinds.map((_, i) => rgba(KIND_COLOURS[i], i ? 0.9 : 0.7));
    this.faint = this.data.meta.kinds.map((_, i) => rgba(KIND_COLOURS[i], i ? 0.22 : 0));
    this.middle = null;
    this.time.load(this.side);
    this.canvas.setAttribute("aria-label", `Side ${this.side.meta.side} as its ${this.count} motions cut it.`);
    this.measure();
    this.whole = this.side.rate.findLastIndex((rate) => rate > 0) + 1; // motions until all is cut
    this.seek(this.whole);
  }

  /** Where the three parts of the picture lie. */
  measure() {
    const ratio = Math.min(devicePixelRatio, 2);
    const width = Math.max(this.host.clientWidth - 2 * GAP, 120);
    const { low, high } = this.side.meta;
    const [long, wide] = [high[0] - low[0] + 8, high[1] - low[1] + 8];
    const strip = Math.min(Math.max((width * wide) / long, 30), 220);
    const scale = Math.max(long / width, wide / strip);
    const centre = [(low[0] + high[0]) / 2, (low[1] + high[1]) / 2];
    const beside = width > 560;
    const pane = beside ? (width - GAP) / 2 : width;
    const tall = Math.min(pane * 0.62, 340);
    const height = strip + GAP + (beside ? tall : 2 * tall + GAP);
    Object.assign(this.canvas, { width: Math.round(width * ratio), height: Math.round(height * ratio) });
    this.canvas.style.height = `${height}px`;
    const box = (...sides) => sides.map((v) => Math.round(v * ratio));
    this.boxes = {
      whole: box(0, 0, width, strip),
      near: box(0, strip + GAP, pane, tall),
      open: beside ? box(pane + GAP, strip + GAP, pane, tall) : box(0, strip + tall + 2 * GAP, pane, tall),
    };
    const half = [(width * scale) / 2, (strip * scale) / 2];
    this.wholeWindow = [centre[0] - half[0], centre[1] - half[1], centre[0] + half[0], centre[1] + half[1]];
    this.span = [NEAR, (NEAR * tall) / pane];
  }

  moved(seconds, by) {
    this.stop();
    if (seconds === null) this.seek(Math.min(Math.max(this.move + by, 0), this.count));
    else this.seek(this.at(seconds));
  }

  /** How many motions have ended at a moment. */
  at(moment) {
    const { seconds } = this.side;
    let [low, high] = [0, this.count];
    while (low < high) {
      const middle = (low + high) >> 1;
      if (seconds[middle] <= moment) low = middle + 1;
      else high = middle;
    }
    return low;
  }

  /** Show the moment at which `move` motions have ended, and `share` of the next. */
  seek(move, share = 0) {
    this.move = move;
    this.share = share;
    this.tell();
    this.drawing ??= requestAnimationFrame(() => this.show()); // once a frame, however often a pointer moves
  }

  /** The same, and what it cost of script, in ms. */
  timed(move) {
    const begin = performance.now();
    this.seek(Math.min(Math.max(move, 0), this.count));
    this.show();
    return performance.now() - begin;
  }

  toggle() {
    if (this.running) this.stop();
    else this.run();
  }

  run() {
    if (this.move >= this.whole) this.seek(0);
    say(this.button, "Stop");
    let moment = this.moment();
    let before = performance.now();
    const step = (now) => {
      moment += ((now - before) / 1000) * Number(this.speed.value);
      before = now;
      const move = this.at(moment);
      const start = move ? this.side.seconds[move - 1] : 0;
      const long = move < this.count ? this.side.seconds[move] - start : 0;
      this.seek(move, long > 0 ? (moment - start) / long : 0);
      if (move >= this.count) this.stop();
      else this.running = requestAnimationFrame(step);
    };
    this.running = requestAnimationFrame(step);
  }

  stop() {
    if (this.running) cancelAnimationFrame(this.running);
    this.running = null;
    say(this.button, "Run");
  }

  moment() {
    const { seconds } = this.side;
    const start = this.move ? seconds[this.move - 1] : 0;
    return start + (this.move < this.count ? (seconds[this.move] - start) * this.share : 0);
  }

  /** Where the tip is, and the last point of the path it has passed. */
  tip() {
    const { points, ends } = this.side;
    const from = this.move ? ends[this.move - 1] : 0;
    const along = this.move < this.count ? (ends[this.move] - from) * this.share : 0;
    const point = from + Math.floor(along);
    const rest = along - Math.floor(along);
    const next = Math.min(point + 1, points.length / 3 - 1);
    return { point, at: [0, 1, 2].map((k) => points[3 * point + k] * (1 - rest) + points[3 * next + k] * rest) };
  }

  show() {
    if (this.drawing) cancelAnimationFrame(this.drawing);
    this.drawing = null;
    const { view, side } = this;
    const { point, at } = this.tip();
    const done = this.move - 1;
    const recent = this.move > RECENT ? side.ends[this.move - RECENT - 1] : 0;
    const cutter = side.meta.cutters[side.tool[Math.min(this.move, this.count - 1)]];
    if (!this.middle || [0, 1].some((k) => Math.abs(at[k] - this.middle[k]) > 0.27 * this.span[k])) this.middle = at.slice(0, 2);
    const [x, s] = this.middle;
    const [halfX, halfS] = this.span.map((v) => v / 2);
    const near = [x - halfX, s - halfS, x + halfX, s + halfS];
    view.part([0, 0, this.canvas.width, this.canvas.height], near);
    view.blank();
    view.part(this.boxes.whole, this.wholeWindow);
    view.face(done);
    view.outline(corners(near), rgba("#0072b2", 1));
    view.part(this.boxes.near, near);
    view.face(done, FRESH);
    view.path(0, recent, this.faint);
    view.path(recent, point, this.colours);
    view.outline(this.disc(at, cutter.radius), [0, 0, 0, 1]);
    const low = -0.42 * this.span[1];
    view.part(this.boxes.open, [x - halfX, low, x + halfX, low + this.span[1]], true);
    view.face(done, 0, at[1]);
    const { area, rim } = this.profile(at, cutter.outline);
    view.fill(area, [0.72, 0.8, 0.86, 1]);
    view.outline(rim, [0, 0, 0, 1]);
  }

  disc([x, s], radius) {
    const ring = this.shape.subarray(0, 3 * ROUND);
    for (let k = 0; k < ROUND; k++) ring.set([x + radius * Math.cos((k * 2 * Math.PI) / ROUND), s + radius * Math.sin((k * 2 * Math.PI) / ROUND), 0], 3 * k);
    return ring;
  }

  /** The cutter from the side: its area, flank by flank in turns, and its rim, up one flank and down the other. */
  profile([x, , n], outline) {
    const count = outline.length;
    const [area, rim] = [this.shape.subarray(0, 6 * count), this.shape.subarray(6 * count, 12 * count)];
    for (let k = 0; k < count; k++) {
      const [r, up] = outline[k];
      for (const [shape, right, left] of [[area, 2 * k, 2 * k + 1], [rim, k, 2 * count - 1 - k]]) {
        shape.set([x + r, 0, n + up], 3 * right);
        shape.set([x - r, 0, n + up], 3 * left);
      }
    }
    return { area, rim };
  }

  tell() {
    const { side } = this;
    const m = Math.max(this.move - 1, 0);
    const [program, line] = [side.program[m], side.line[m]];
    const moment = this.moment();
    say(this.clock, `${minutes(moment)} of ${minutes(this.time.total)}, motion ${this.move} of ${this.count}`);
    say(this.line, lineText(side, program, line));
    const load = loadWords(side, m);
    const cutter = side.meta.cutters[side.tool[m]].name;
    say(this.told, ` line ${line} of ${side.meta.programs[program]}; ${this.data.meta.kinds[side.kind[m]]}, ${cutter}; ${load}`);
    this.time.show(moment, this.move, `line ${line}, ${minutes(moment)}`);
  }
}

function corners([x0, s0, x1, s1]) {
  return new Float32Array([x0, s0, 0, x1, s0, 0, x1, s1, 0, x0, s1, 0]);
}

function minutes(seconds) {
  const whole = Math.floor(seconds);
  return `${Math.floor(whole / 60)}:${String(whole % 60).padStart(2, "0")}`;
}

/** What a motion meets; where metal is taken by a flank alone, beside the tip, no force is known. */
function loadWords({ steady, force, share, engaged, depth, rate, meta }, m) {
  if (force[m] > 0) return `mean force ${size(steady[m], 1, "N")} of ${size(meta.limit, 0, "N")}, ${size(force[m], 1, "N")} on a tooth${share[m] > 0 ? `, ${share[m].toFixed(0)} % of what snaps the cutter` : ""}, ${engaged[m].toFixed(0)}° engaged, ${size(depth[m], 2)} deep`;
  return rate[m] > 0 ? `takes ${size(rate[m], 0, "mm³/min")} beside its tip, force not known` : "cuts nothing";
}
