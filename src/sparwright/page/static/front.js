// Candidates of a sweep as points over two of their figures, with the front as a line; one of them can be picked.

import { draw as svg } from "./dom.js";
import { outward, sign } from "./units.js";

const EDGE = { left: 58, right: 18, top: 16, bottom: 44 };
const NEAR = 24; // px from a point that still pick it
const INK = "#1d1d1b";
const BLUE = "#0072b2";
const RED = "#a33d00";
let count = 0;

/** A figure as one reads it. */
export function figureText(value, unit) {
  if (unit === "%") return `${(100 * value).toFixed(1)} %`;
  const shown = outward(value, unit);
  return `${unit === "kg" ? shown.toFixed(3) : Number(shown.toPrecision(4))} ${sign(unit)}`;
}

/** The mark of a candidate: a circle where it meets every wish, a cross where not; full or thick on the front. */
export function candidateMark({ front, misses }) {
  if (misses.length) return svg("path", { d: "M-5 -5L5 5M-5 5L5 -5", stroke: RED, "stroke-width": front ? 3.6 : 1.4, fill: "none" });
  return svg("circle", { r: 5.5, stroke: BLUE, "stroke-width": 1.6, fill: front ? BLUE : "#fff" });
}

export class FrontPlot {
  /** picked(place): a candidate was chosen by pointer or keys. */
  constructor(host, picked) {
    this.host = host;
    this.picked = picked;
    this.name = `front-${++count}`;
    this.svg = svg("svg", { class: "front", role: "listbox", tabindex: "0", "aria-label": "Candidates; arrow keys go from one to the next by its figures" });
    host.append(this.svg);
    this.svg.addEventListener("pointerdown", (event) => this.pointed(event));
    this.svg.addEventListener("keydown", (event) => this.key(event));
    new ResizeObserver(() => this.result && this.render()).observe(host);
  }

  /** across, up: figures as the result names them. words(place): how a candidate is called. now: place of the job's own, -1 without. */
  show(result, { across, up, pick, now, words }) {
    Object.assign(this, { result, across, up, pick, now, words });
    this.render();
  }

  pointed(event) {
    const box = this.svg.getBoundingClientRect();
    const [x, y] = [event.clientX - box.left, event.clientY - box.top];
    const far = (p) => Math.hypot(p.x - x, p.y - y);
    const best = this.points.reduce((a, b) => (far(b) < far(a) ? b : a), this.points[0]);
    if (best && far(best) <= NEAR) this.picked(best.place);
  }

  key(event) {
    const along = { ArrowRight: ["x", 1], ArrowLeft: ["x", -1], ArrowUp: ["y", -1], ArrowDown: ["y", 1], Home: ["x", -Infinity], End: ["x", Infinity] }[event.key];
    if (!along || this.points.length === 0) return;
    event.preventDefault();
    const [axis, by] = along;
    const order = [...this.points].sort((a, b) => a[axis] - b[axis] || a.place - b.place);
    const at = order.findIndex((p) => p.place === this.pick);
    this.picked(order[Math.min(Math.max(at + by, 0), order.length - 1)].place);
  }

  render() {
    const width = Math.max(this.host.clientWidth, 240);
    const height = width < 560 ? 300 : 380;
    for (const [key, value] of Object.entries({ viewBox: `0 0 ${width} ${height}`, width, height })) this.svg.setAttribute(key, value);
    const made = this.result.candidates.map((c, place) => ({ ...c, place })).filter((c) => c.figures);
    const [x, y] = [this.axis(this.across, made, EDGE.left, width - EDGE.right), this.axis(this.up, made, height - EDGE.bottom, EDGE.top)];
    this.points = made.map((c) => ({ ...c, x: x.at(c.figures[this.across.name]), y: y.at(c.figures[this.up.name]) }));
    const ground = svg("g", { "aria-hidden": "true" });
    ground.append(...this.scales(x, y, width, height), ...this.wishes(x, y, width, height), this.line());
    this.svg.replaceChildren(ground, ...this.points.map((p) => this.option(p)), this.frames());
    if (this.points.some((p) => p.place === this.pick)) this.svg.setAttribute("aria-activedescendant", `${this.name}-${this.pick}`);
    else this.svg.removeAttribute("aria-activedescendant");
  }

  /** A scale over a figure of all candidates and what is wished of it, from one place on the screen to another. */
  axis({ name, unit }, made, from, to) {
    const wish = this.result.wishes[name];
    const all = [...made.map((c) => c.figures[name]), ...(wish === undefined ? [] : [wish])];
    let [low, high] = [Math.min(...all), Math.max(...all)];
    const room = 0.06 * (high - low) || 0.05 * Math.abs(high) || 1;
    [low, high] = [low - room, high + room];
    const factor = unit === "%" ? 100 : outward(1, unit);
    const at = (value) => from + ((value - low) / (high - low)) * (to - from);
    return { at, wish, ticks: ticks(low * factor, high * factor, Math.abs(to - from) / 70).map((t) => [at(t / factor), t]) };
  }

  scales(x, y, width, height) {
    const [floor, left] = [height - EDGE.bottom, EDGE.left];
    const rule = (d) => svg("path", { d, stroke: "#e4e1d8", "stroke-width": 1 });
    const text = (at, words, more) => svg("text", { x: at[0], y: at[1], ...more }, words);
    const title = (figure) => `${figure.label}, ${sign(figure.unit)}${figure.more ? "" : " (less is better)"}`;
    const out = [];
    for (const [at, value] of x.ticks) out.push(rule(`M${at} ${EDGE.top}V${floor}`), text([at, floor + 17], String(value), { "text-anchor": "middle" }));
    for (const [at, value] of y.ticks) out.push(rule(`M${left} ${at}H${width - EDGE.right}`), text([left - 7, at + 5], String(value), { "text-anchor": "end" }));
    out.push(svg("path", { d: `M${left} ${EDGE.top}V${floor}H${width - EDGE.right}`, stroke: INK, fill: "none" }));
    out.push(text([(left + width - EDGE.right) / 2, height - 6], title(this.across), { "text-anchor": "middle" }));
    out.push(text([0, 0], title(this.up), { "text-anchor": "middle", transform: `translate(14 ${(EDGE.top + floor) / 2}) rotate(-90)` }));
    return out;
  }

  wishes(x, y, width, height) {
    const out = [];
    const line = (d) => svg("path", { d, stroke: INK, "stroke-width": 1.4, "stroke-dasharray": "7 5", fill: "none" });
    if (x.wish !== undefined) {
      const at = x.at(x.wish);
      const late = at > width - 80;
      out.push(line(`M${at} ${EDGE.top}V${height - EDGE.bottom}`), svg("text", { x: at + (late ? -4 : 4), y: EDGE.top + 12, "text-anchor": late ? "end" : "start" }, "wished"));
    }
    if (y.wish !== undefined) {
      const at = y.at(y.wish);
      out.push(line(`M${EDGE.left} ${at}H${width - EDGE.right}`), svg("text", { x: width - EDGE.right, y: at - 5, "text-anchor": "end" }, "wished"));
    }
    return out;
  }

  /** The line through the points that none beats in the two figures shown. */
  line() {
    const score = (p, figure) => p.figures[figure.name] * (figure.more ? 1 : -1);
    const [a, b] = [this.across, this.up];
    const beats = (p, q) => score(p, a) >= score(q, a) && score(p, b) >= score(q, b) && (score(p, a) > score(q, a) || score(p, b) > score(q, b));
    const best = this.points.filter((q) => !this.points.some((p) => beats(p, q))).sort((p, q) => p.x - q.x || p.y - q.y);
    return svg("path", { class: "best", d: best.map((p, i) => `${i ? "L" : "M"}${p.x.toFixed(1)} ${p.y.toFixed(1)}`).join(""), stroke: BLUE, "stroke-width": 2, fill: "none" });
  }

  option(p) {
    const said = [this.words(p.place), ...[this.across, this.up].map((f) => `${f.label} ${figureText(p.figures[f.name], f.unit)}`)];
    if (p.front) said.push("on the front");
    if (p.misses.length) said.push("misses a wish");
    if (p.place === this.result.recommended) said.push("recommended");
    if (p.place === this.now) said.push("the job as it is now");
    const label = said.join(", ");
    const option = svg("g", { role: "option", id: `${this.name}-${p.place}`, "aria-selected": String(p.place === this.pick), "aria-label": label, transform: `translate(${p.x.toFixed(1)} ${p.y.toFixed(1)})` });
    option.append(svg("title", {}, label), candidateMark(p));
    return option;
  }

  /** Frames and words about the picked, the recommended and the job's own candidate. */
  frames() {
    const out = svg("g", { "aria-hidden": "true" });
    const [right, up] = [this.across.more ? 1 : -1, this.up.more ? -1 : 1]; // where what is better lies: nothing of the front is there
    const named = (p, words, shape, side) => {
      const wide = 8 * words.length;
      const ahead = right * side > 0;
      const x = Math.min(Math.max(p.x + 9 * right * side, EDGE.left + (ahead ? 4 : wide)), this.host.clientWidth - EDGE.right - (ahead ? wide : 4));
      out.append(shape, svg("text", { class: "strong", x, y: p.y + 5 + 18 * up * side, "text-anchor": ahead ? "start" : "end" }, words));
    };
    for (const p of this.points) {
      if (p.place === this.now) named(p, "now", svg("rect", { x: p.x - 10, y: p.y - 10, width: 20, height: 20, stroke: INK, "stroke-width": 1.6, fill: "none" }), -1);
      if (p.place === this.result.recommended) named(p, "recommended", svg("path", { d: `M${p.x} ${p.y - 14}L${p.x + 14} ${p.y}L${p.x} ${p.y + 14}L${p.x - 14} ${p.y}Z`, stroke: INK, "stroke-width": 1.6, fill: "none" }), 1);
      if (p.place === this.pick) out.append(svg("circle", { class: "pick", cx: p.x, cy: p.y, r: 17, stroke: INK, "stroke-width": 3, fill: "none" }));
    }
    return out;
  }
}

/** Round values between two ends, about `most` of them. */
function ticks(low, high, most) {
  const rough = (high - low) / Math.max(most, 2);
  const ten = 10 ** Math.floor(Math.log10(rough));
  const step = ten * ([1, 2, 5].find((s) => s * ten >= rough) ?? 10);
  const out = [];
  for (let k = Math.ceil(low / step - 1e-9); k * step <= high + 1e-9 * step; k++) out.push(Number((k * step).toPrecision(6)));
  return out;
}
