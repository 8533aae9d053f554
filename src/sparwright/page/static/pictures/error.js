// Every feature's outline, and round it, far too large, where it may come out; a side in strips from the datum end on.

import { make, say } from "../dom.js";
import { Sheet, box, path, ring, rings, words } from "../drawing.js";

const READABLE = 1.25; // screen pixels for a millimetre of the member
const ROOM = 12; // mm round it
const MARKS = 100; // mm between the figures below it

/** data.meta, data.arrays: see pictures/error.py. */
export function draw(host, data) {
  const inner = make("div");
  const note = make("p", { class: "keys" });
  host.append(inner, note);
  let shown = data;
  let strips = 0;
  const lay = () => {
    const { meta, arrays } = shown;
    strips = count(meta, host);
    inner.replaceChildren();
    meta.sides.forEach((side, i) => {
      inner.append(make("p", { class: "keys" }, side.words));
      for (let k = 0; k < strips; k++) strip(inner, meta, arrays, i, k, strips);
    });
    const factor = `Dark: as drawn. Blue: where it may come out, its error drawn ${meta.factor} times too large. From the stop at the left the error grows with the distance.${strips > 1 ? " Each side goes on in the strip below." : ""}`;
    say(note, meta.note || factor);
  };
  new ResizeObserver(() => count(shown.meta, host) !== strips && lay()).observe(host);
  lay();
  return {
    update(next) {
      shown = next;
      lay();
    },
  };
}

/** How many strips a side takes so that its features can be told apart. */
function count({ length }, host) {
  return Math.max(Math.ceil((length * READABLE) / Math.max(host.clientWidth, 120)), 1);
}

function strip(inner, meta, arrays, i, k, strips) {
  const long = meta.length / strips;
  const [from, to] = [k * long, (k + 1) * long];
  const [low, high] = meta.sides[i].body;
  const part = strips > 1 ? ` From ${from.toFixed(0)} to ${to.toFixed(0)} mm.` : "";
  const sheet = new Sheet(inner, "errors", `${meta.sides[i].words}${part}`);
  sheet.svg.append(
    path(ring(box(0, low, meta.length, high)), "line metal"),
    path(rings(arrays[`ghost_${i}`], arrays[`where_${i}`]), "ring thin ghost"),
    path(rings(arrays[`outline_${i}`], arrays[`begins_${i}`]), "ring fine"),
  );
  for (let x = Math.ceil(from / MARKS) * MARKS; x <= to; x += MARKS) sheet.svg.append(path(`M${x} ${-low}v4`, "line thin"), words([x, low - 14], `${x}`, "middle"));
  sheet.frame([from - ROOM, low - 18, to + ROOM, high + ROOM]);
}
