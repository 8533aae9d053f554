// Every feature's outline, and round it, far too large, where it may come out; one drawing a side.

import { make, say } from "../dom.js";
import { Sheet, box, path, ring, rings } from "../drawing.js";

/** data.meta, data.arrays: see pictures/error.py. */
export function draw(host, data) {
  const inner = make("div");
  const note = make("p", { class: "keys" });
  host.append(inner, note);
  const update = ({ meta, arrays }) => {
    inner.replaceChildren();
    meta.sides.forEach((side, i) => {
      const frame = make("div", { class: "aside", tabindex: "0", role: "group", "aria-label": `Errors on face ${side.name}` });
      inner.append(make("p", { class: "keys" }, side.words), frame);
      const sheet = new Sheet(frame, "errors", side.words);
      const [low, high] = side.body;
      sheet.svg.append(
        path(ring(box(0, low, meta.length, high)), "line metal"),
        path(rings(arrays[`ghost_${i}`], arrays[`where_${i}`]), "ring thin ghost"),
        path(rings(arrays[`outline_${i}`], arrays[`begins_${i}`]), "ring fine"),
      );
      sheet.frame([-12, low - 12, meta.length + 12, high + 12]);
    });
    const factor = `Dark: as drawn. Blue: where it may come out, its error drawn ${meta.factor} times too large. From the stop at the left the error grows with the distance.`;
    say(note, meta.note || factor);
  };
  update(data);
  return { update };
}
