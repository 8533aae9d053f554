// The section with its walls, drawn by the server as SVG; its figures beside it, or below it on a narrow screen.

import { make, picture } from "../dom.js";

/** Draw into `host`; data.meta: svg, words, size [width, height] and column, the width of its list of figures. */
export function draw(host, data) {
  const update = ({ meta }) => {
    const [width, height] = meta.size;
    const at = width - meta.column;
    const drawing = picture(meta.svg, meta.words, "section-drawing");
    drawing.setAttribute("viewBox", `0 0 ${at} ${height}`);
    const list = picture(meta.svg, "", "section-list");
    const listed = [...list.querySelectorAll("text")].filter((text) => Number(text.getAttribute("x")) >= at && !text.hasAttribute("stroke"));
    list.setAttribute("aria-label", `Its figures: ${listed.map((text) => text.textContent).join(", ")}`);
    const end = Math.max(...listed.map((text) => Number(text.getAttribute("y"))));
    list.setAttribute("viewBox", `${at - 2} 0 ${meta.column + 2} ${end + 5}`);
    host.replaceChildren(make("div", { class: "section-picture" }, drawing, list));
  };
  update(data);
  return { update };
}
