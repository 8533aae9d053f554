// The section with its walls, drawn by the server as SVG.

import { make } from "../dom.js";

/** Draw into `host`; data.meta: svg, words. */
export function draw(host, data) {
  const update = ({ meta }) => {
    const svg = new DOMParser().parseFromString(meta.svg, "image/svg+xml").documentElement;
    svg.setAttribute("role", "img");
    svg.setAttribute("aria-label", meta.words);
    svg.removeAttribute("width");
    svg.removeAttribute("height");
    // On a narrow screen the drawing keeps a size that can be read, and is moved sideways.
    const frame = make("div", { class: "aside", tabindex: "0", role: "group", "aria-label": "Drawing of the section" });
    frame.append(document.importNode(svg, true));
    host.replaceChildren(frame);
  };
  update(data);
  return { update };
}
