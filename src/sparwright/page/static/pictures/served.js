// The machine served, drawn by the server as SVG, and beside it what every link gives.

import { draw as svg, make, say } from "../dom.js";

/** data.meta: svg, links [[name, share], ...], words. */
export function draw(host, data) {
  const frame = make("div", { class: "aside", tabindex: "0", role: "group", "aria-label": "Drawing of the machine served" });
  const list = make("div", { class: "bars shares" });
  const words = make("p", { class: "keys" });
  host.append(frame, list, words);
  const update = ({ meta }) => {
    say(words, meta.words);
    frame.hidden = meta.svg === null;
    list.replaceChildren(...meta.links.flatMap(link));
    if (meta.svg === null) return;
    const picture = new DOMParser().parseFromString(meta.svg, "image/svg+xml").documentElement;
    picture.setAttribute("role", "img");
    picture.setAttribute("aria-label", meta.words);
    picture.removeAttribute("width");
    picture.removeAttribute("height");
    frame.replaceChildren(document.importNode(picture, true));
  };
  update(data);
  return { update };
}

function link([name, share], place) {
  const bar = svg("svg", { viewBox: "0 0 100 20", preserveAspectRatio: "none", "aria-hidden": "true" });
  bar.append(svg("rect", { x: 0, y: 4, width: 100 * share, height: 12, fill: place === 0 ? "#d55e00" : "#b9b6ac" }));
  const kind = place === 0 ? "figure most" : "figure";
  return [make("span", { class: kind }, name), bar, make("span", { class: kind }, `${(100 * share).toFixed(0)} %`), make("span", {}, place === 0 ? "gives most" : "")];
}
