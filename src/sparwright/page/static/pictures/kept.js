// What is kept of each stiffness, as bars; while a value is moved the bars follow the quick answer.

import { draw as svg, make, say } from "../dom.js";

const LIVE = { GJ: "twist kept", EIy: "bending kept, moving in z", EIz: "bending kept, moving in y" };

/** data.meta: rows {key, name, kept, spread, windows, wish}, blank, note. */
export function draw(host, data, act) {
  const list = make("div", { class: "bars" });
  const note = make("p", { class: "keys" });
  host.append(list, note);
  let meta = data.meta;
  const show = () => {
    const rows = meta.rows.map((row) => live(row, act.answer(1)));
    const full = 1.08 * Math.max(1, ...rows.flatMap((r) => [r.kept + r.spread, r.windows ?? 0]));
    list.replaceChildren(...rows.flatMap((row) => bar(row, full)));
    const words = rows.length ? "Shares of the plain stock. Dark: with skins as they are, with the model's spread; open: windows instead; tall tick: what is wished." : "";
    say(note, [words, meta.note].filter(Boolean).join(" "));
  };
  show();
  return {
    update(next) {
      meta = next.meta;
      show();
    },
    state: show,
  };
}

/** A row as the quick answer on the screen has it, where that tells it. */
function live(row, band) {
  if (band.by !== "quick") return row;
  const found = band.findings.find((f) => f.name === LIVE[row.key]);
  return found ? { ...row, kept: found.value / 100, spread: (found.spread ?? 0) / 100 } : row;
}

function bar({ key, name, kept, spread, windows, wish }, full) {
  const x = (share) => (100 * share) / full;
  const picture = svg("svg", { viewBox: "0 0 100 20", preserveAspectRatio: "none", "aria-hidden": "true" });
  const line = { fill: "none", stroke: "#1d1d1b", "stroke-width": 1.4, "vector-effect": "non-scaling-stroke" };
  picture.append(svg("path", { ...line, stroke: "#b9b6ac", d: `M0 0V20M${x(1)} 0V20` }));
  picture.append(svg("rect", { x: 0, y: 2, width: x(kept), height: 8, fill: "#6f6d66" }));
  if (windows !== null) picture.append(svg("rect", { ...line, x: 0, y: 11, width: x(windows), height: 6, fill: "#fff" }));
  if (spread) picture.append(svg("path", { ...line, d: `M${x(kept - spread)} 6H${x(kept + spread)}M${x(kept - spread)} 3V9M${x(kept + spread)} 3V9` }));
  if (wish !== null) picture.append(svg("path", { ...line, "stroke-width": 3, d: `M${x(wish)} 0V20` }));
  const percent = (share) => `${(100 * share).toFixed(1)} %`;
  return [
    make("span", {}, name),
    picture,
    make("span", { class: "figure", "data-key": key }, percent(kept)),
    make("span", { class: "figure" }, windows === null ? "" : `windows ${percent(windows)}`),
  ];
}
