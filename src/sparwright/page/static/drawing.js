// What drawings made in the page share: a view in millimetres, Y upwards, whose words keep their size on the screen.

import { draw as svg } from "./dom.js";

/** An SVG element over a box [low x, low y, high x, high y] in mm; its property --unit is a screen pixel in mm. */
export class Sheet {
  constructor(host, name, words) {
    this.host = host;
    this.svg = svg("svg", { class: `drawn ${name}`, role: "img", "aria-label": words });
    host.append(this.svg);
    new ResizeObserver(() => this.size()).observe(host);
  }

  frame([lowX, lowY, highX, highY]) {
    this.wide = highX - lowX;
    this.svg.setAttribute("viewBox", `${lowX} ${-highY} ${this.wide} ${highY - lowY}`);
    this.size();
  }

  size() {
    const width = this.svg.clientWidth;
    if (!width || !this.wide) return;
    this.unit = this.wide / width;
    this.svg.style.setProperty("--unit", this.unit);
  }

  /** Where a pointer is, in mm; place: where the drawing lies on the screen, or lay when the hand took hold of it. */
  at(event, place = null) {
    const box = place ?? this.svg.getBoundingClientRect();
    const [x, y] = this.svg.getAttribute("viewBox").split(" ").map(Number);
    const unit = this.wide / box.width;
    return [x + (event.clientX - box.left) * unit, -(y + (event.clientY - box.top) * unit)];
  }
}

/** Rings [[x, y], ...] as the data of a path, Y upwards. */
export function ring(...rings) {
  return rings.map((points) => `M${points.map(([x, y]) => `${x.toFixed(2)} ${(-y).toFixed(2)}`).join("L")}Z`).join("");
}

/** A rectangle's corners. */
export const box = (x0, y0, x1, y1) => [[x0, y0], [x1, y0], [x1, y1], [x0, y1]];

/** Rings that lie one behind the other in (k, 2), each from one start to the next, as the data of a path. */
export function rings(points, starts) {
  let out = "";
  for (let i = 0; i + 1 < starts.length; i++) {
    for (let k = starts[i]; k < starts[i + 1]; k++) out += `${k === starts[i] ? "M" : "L"}${points[2 * k].toFixed(2)} ${(-points[2 * k + 1]).toFixed(2)}`;
    out += "Z";
  }
  return out;
}

/** Words at a place, Y upwards. */
export function words(at, text, anchor = "start", kind = "") {
  return svg("text", { x: at[0], y: -at[1], "text-anchor": anchor, class: kind }, text);
}

/** A path with a class. */
export const path = (d, kind) => svg("path", { d, class: kind });
