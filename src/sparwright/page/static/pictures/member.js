// The member in three dimensions; pocket floors coloured by the metal left under them.

import { cividis } from "../cividis.js";
import { draw as svg, make, say } from "../dom.js";
import { short } from "../units.js";
import { View } from "../view.js";

const METAL = [0.8, 0.8, 0.78];
const EDGE = [0.227, 0.227, 0.212];

/** data.arrays: points (n, 3) mm, triangles (m, 3), thickness (m), edges (k, 2). data.meta: skin_mm, words. */
export function draw(host, data) {
  const view = new View(host);
  const scale = make("div", { class: "scale" });
  host.prepend(scale);
  const update = ({ meta, arrays }) => {
    view.canvas.setAttribute("aria-label", `${meta.words} ${view.keys}`);
    const [low, high] = meta.skin_mm ?? [0, 0];
    const shape = { ...skin(arrays, low, high), ends: lines(arrays), ink: EDGE };
    view.show(shape, [0, 0, 0], [meta.length_mm, ...meta.size_mm]);
    scale.replaceChildren(...legend(meta.skin_mm));
  };
  update(data);
  return { update };
}

function skin({ points, triangles, thickness }, low, high) {
  const place = new Float32Array(triangles.length * 3);
  const colour = new Float32Array(triangles.length * 3);
  for (let t = 0; t < thickness.length; t++) {
    const share = high > low ? (thickness[t] - low) / (high - low) : 0.5;
    const rgb = thickness[t] < 0 ? METAL : cividis(share);
    for (let c = 0; c < 3; c++) {
      const [from, to] = [triangles[3 * t + c] * 3, (3 * t + c) * 3];
      for (let k = 0; k < 3; k++) {
        place[to + k] = points[from + k];
        colour[to + k] = rgb[k];
      }
    }
  }
  return { points: place, colours: colour };
}

function lines({ points, edges }) {
  const ends = new Float32Array(edges.length * 3);
  for (let e = 0; e < edges.length; e++) for (let k = 0; k < 3; k++) ends[3 * e + k] = points[3 * edges[e] + k];
  return ends;
}

function legend(range) {
  if (!range) return [make("span", {}, "No pocket has a skin.")];
  const [low, high] = range;
  const steps = low < high ? 24 : 1;
  const bar = svg("svg", { viewBox: "0 0 240 20", preserveAspectRatio: "none", "aria-hidden": "true" });
  for (let i = 0; i < steps; i++) {
    const [r, g, b] = cividis(steps === 1 ? 0.5 : i / (steps - 1)).map((c) => Math.round(255 * c));
    bar.append(svg("rect", { x: (i * 240) / steps, y: 0, width: 240 / steps + 0.5, height: 20, fill: `rgb(${r},${g},${b})` }));
  }
  const words = low < high ? [`skin ${short(low, 2)}`, short(high, 2)] : [`skin ${short(low, 2)}`, ""];
  return [make("span", {}, words[0]), bar, make("span", {}, words[1])];
}
