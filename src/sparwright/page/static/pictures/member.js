// The member in three dimensions; pocket floors coloured by the metal left under them.

import { cividis } from "../cividis.js";
import { draw as svg, make, say } from "../dom.js";
import { short } from "../units.js";
import { View, linear } from "../view.js";
import { BufferAttribute, BufferGeometry, DoubleSide, LineBasicMaterial, LineSegments, Mesh, MeshLambertMaterial } from "../vendor/three.js";

const METAL = linear([0.8, 0.8, 0.78]);

/** data.arrays: points (n, 3) mm, triangles (m, 3), thickness (m), edges (k, 2). data.meta: skin_mm, words. */
export function draw(host, data) {
  const view = new View(host);
  const scale = make("div", { class: "scale" });
  host.prepend(scale);
  const update = ({ meta, arrays }) => {
    view.clear();
    view.canvas.setAttribute("aria-label", `${meta.words} ${view.keys}`);
    const [low, high] = meta.skin_mm ?? [0, 0];
    view.scene.add(skin(arrays, low, high), lines(arrays));
    view.frame([0, 0, 0], [meta.length_mm, ...meta.size_mm]);
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
    const rgb = thickness[t] < 0 ? METAL : linear(cividis(share));
    for (let c = 0; c < 3; c++) {
      const [from, to] = [triangles[3 * t + c] * 3, (3 * t + c) * 3];
      for (let k = 0; k < 3; k++) {
        place[to + k] = points[from + k];
        colour[to + k] = rgb[k];
      }
    }
  }
  const geometry = new BufferGeometry();
  geometry.setAttribute("position", new BufferAttribute(place, 3));
  geometry.setAttribute("color", new BufferAttribute(colour, 3));
  geometry.computeVertexNormals();
  const material = new MeshLambertMaterial({ vertexColors: true, side: DoubleSide, polygonOffset: true, polygonOffsetFactor: 1, polygonOffsetUnits: 1 });
  return new Mesh(geometry, material);
}

function lines({ points, edges }) {
  const geometry = new BufferGeometry();
  geometry.setAttribute("position", new BufferAttribute(points, 3));
  geometry.setIndex(new BufferAttribute(edges, 1));
  return new LineSegments(geometry, new LineBasicMaterial({ color: 0x3a3a36 }));
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
