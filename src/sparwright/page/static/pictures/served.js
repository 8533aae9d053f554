// The machine served, drawn by the server as SVG, and beside it what every link gives.

import { draw as svg, make, picture, say } from "../dom.js";

/** data.meta: svg, links [[name, share], ...], words. */
export function draw(host, data) {
  const frame = make("div");
  const list = make("div", { class: "bars shares" });
  const words = make("p", { class: "keys" });
  host.append(frame, list, words);
  const update = ({ meta }) => {
    say(words, meta.words);
    frame.hidden = meta.svg === null;
    list.replaceChildren(...meta.links.flatMap(link));
    if (meta.svg === null) return;
    frame.replaceChildren(picture(meta.svg, meta.words, "if-wide"), picture(meta.narrow, meta.words, "if-narrow"));
  };
  update(data);
  return { update };
}

function link([name, share], place) {
  const bar = svg("svg", { viewBox: "0 0 100 20", preserveAspectRatio: "none", "aria-hidden": "true" });
  bar.append(svg("rect", { x: 0, y: 4, width: 100 * share, height: 12, fill: place === 0 ? "#d55e00" : "#b9b6ac" }));
  const kind = place === 0 ? "figure most" : "figure";
  return [make("span", { class: kind }, name), bar, make("span", { class: kind }, `${(100 * share).toFixed(0)} %`), make("span", { class: "last" }, place === 0 ? "gives most" : "")];
}
