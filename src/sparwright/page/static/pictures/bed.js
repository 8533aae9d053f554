// The bed from above; the member can be laid anew by hand, by keys or by figures, and is written where it fits.

import { draw as svg, make, say } from "../dom.js";
import { Sheet, box, path, ring, rings, words } from "../drawing.js";
import { mark } from "../marks.js";
import { judged, onBed } from "../pose.js";
import { figure, inward, keyStep, outward, places, short, sign, size, unitsShown } from "../units.js";

const keys = () => `Arrow keys move it by ${short(keyStep(), 1)} (with Shift ten times that), plus and minus turn it by 0.1° (Page Up and Down by 1°), Enter writes it, Escape puts it back.`;
const AWAY = 32; // screen pixels from the member's ends to where it is turned by
const RING = 14; // and round the middle of the ring there
const extent = (points) => [0, 1].map((k) => Math.min(...points.map((p) => p[k]))).concat([0, 1].map((k) => Math.max(...points.map((p) => p[k]))));
const round = (value, steps) => Math.round(value * steps) / steps;

/** data.meta, data.arrays: see pictures/bed.py. */
export function draw(host, data, act) {
  const bed = new Bed(host, act);
  bed.update(data);
  return { update: (next) => bed.update(next) };
}

class Bed {
  constructor(host, act) {
    this.act = act;
    this.side = make("select", { "aria-label": "Side that is up", onchange: () => this.redraw() });
    this.told = make("p", { class: "told", role: "status" });
    host.append(make("div", { class: "drawn-line" }, make("label", {}, "up:", this.side), this.told));
    this.frame = make("div", { tabindex: "0", role: "group", class: "pose", "aria-label": "The member on the bed" });
    host.append(this.frame);
    this.sheet = new Sheet(this.frame, "bed", "");
    this.frame.addEventListener("keydown", (event) => this.key(event));
    new ResizeObserver(() => this.meta && !this.held && this.show()).observe(this.frame);
    this.boxes = Object.fromEntries(["x", "y", "angle"].map((k) => [k, make("input", { type: "number", step: "any", onchange: () => this.typed() })]));
    this.back = make("button", { type: "button", disabled: true, onclick: () => this.putBack() }, "Put it back");
    this.free = make("button", { type: "button", onclick: () => this.leave() }, "As Sparwright chooses");
    this.unit = [make("span"), make("span")];
    this.help = make("p", { class: "keys" });
    const labelled = (text, input, unit) => make("label", {}, text, input, unit);
    host.append(
      make(
        "div",
        { class: "drawn-line" },
        labelled("datum end at X", this.boxes.x, this.unit[0]),
        labelled("Y", this.boxes.y, this.unit[1]),
        labelled("angle", this.boxes.angle, "°"),
        this.back,
        this.free,
      ),
      this.help,
    );
  }

  update({ meta, arrays }) {
    [this.meta, this.arrays] = [meta, arrays];
    for (const unit of this.unit) say(unit, sign("mm"));
    this.frame.setAttribute("aria-label", `The member on the bed. ${keys()}`);
    say(this.help, `Drag the member to move it, a ring at its end to turn it; let go, it is written into the job where it fits. While it is moved, the cuts and pads in the reach and the body between the uprights are judged; all else is, once it is written. Blue: where the centres of cutters must come. ${keys()}`);
    this.frame.querySelector("svg").setAttribute("aria-label", meta.words);
    const names = meta.sides.map((s) => s.name);
    if (this.names !== names.join()) {
      this.names = names.join();
      this.side.replaceChildren(...names.map((n, i) => make("option", { value: i }, n)));
    }
    this.was = { x: meta.lie.x, y: meta.lie.y, angle: meta.lie.angle };
    this.pose = { ...this.was };
    this.free.disabled = !meta.said.angle;
    this.redraw();
  }

  redraw() {
    this.ghost = path(ring(onBed(this.meta.moves.body, this.was)), "line thin was");
    this.member = this.laid();
    this.near = svg("g", { "pointer-events": "none" });
    this.handles = [0, 1].map((end) => {
      const handle = svg("circle", { class: "handle" });
      handle.addEventListener("pointerdown", (event) => this.turn(event, end));
      return handle;
    });
    this.sheet.svg.replaceChildren(...this.ground(), this.ghost, this.member, ...this.handles, this.near);
    this.show();
  }

  /** Show all of the bed and of the member, where it was and where it is, with the rings to turn it by. */
  frameAll() {
    const { reach, table, uprights, moves } = this.meta;
    const long = moves.body[1][0];
    const fixed = [[table[0], table[1]], [table[2], table[3]], [uprights.left - 40, uprights.low], [uprights.right + 40, Math.max(reach[1], uprights.high)]];
    const bare = extent([...fixed, ...onBed(moves.body, this.pose)]);
    const unit = (bare[2] - bare[0]) / Math.max(this.frame.clientWidth - 2 * (AWAY + RING), 120);
    const ends = [...moves.body, [-AWAY * unit, 0], [long + AWAY * unit, 0]];
    const all = extent([...fixed, ...onBed(ends, this.was), ...onBed(ends, this.pose)]);
    const room = Math.max(25, RING * unit);
    this.sheet.frame([all[0] - room, all[1] - room, all[2] + room, all[3] + room]);
  }

  /** What stays: table, reach, uprights. */
  ground() {
    const { reach, table, uprights, throat } = this.meta;
    const sides = [box(uprights.left - 40, uprights.low, uprights.left, uprights.high), box(uprights.right, uprights.low, uprights.right + 40, uprights.high)];
    return [
      path(ring(box(...table)), "line thin"),
      path(ring(box(0, 0, reach[0], reach[1])), "line dashed"),
      path(ring(...sides), "ring thin sheet"),
      words([reach[0] - 8, 8], `reach ${Number(figure(reach[0], 1))} x ${short(reach[1], 1)}`, "end"),
      words([(uprights.left + uprights.right) / 2, reach[1] + 8], `${short(throat, 1)} between the uprights`, "middle"),
    ];
  }

  /** The member and all that lies with it, in its own axes; `show` puts it in its place. */
  laid() {
    const i = Number(this.side.value || 0);
    const side = this.meta.sides[i];
    const long = this.meta.moves.body[1][0];
    const group = svg("g", { class: "member" });
    for (const pad of side.pads) group.append(path(ring(box(pad.x[0], pad.t[0], pad.x[1], pad.t[1])), "ring thin sheet"));
    group.append(path(ring(box(0, side.body[0], long, side.body[1])), "line metal body"));
    group.append(path(rings(this.arrays[`outlines_${i}`], this.arrays[`starts_${i}`]), "ring thin"));
    const { needed } = this.arrays;
    let dots = "";
    for (let k = 0; k < needed.length; k += 2) dots += `M${needed[k].toFixed(1)} ${(-needed[k + 1]).toFixed(1)}h0`;
    group.append(path(dots, "needed"));
    group.append(svg("g", { class: "straps" }, ...side.straps.map((s) => path(ring(s.ring), "line"))));
    if (side.stop) group.append(svg("circle", { cx: side.stop.at[0], cy: -side.stop.at[1], r: side.stop.size / 2, class: "ring solid" }));
    group.append(path(`M-20 0H${long + 20}`, "line thin dashed"));
    group.addEventListener("pointerdown", (event) => this.move(event));
    return group;
  }

  /** Put the member where `pose` says and tell how it fits there. While a hand holds it the frame stays. */
  show() {
    if (!this.held) this.frameAll();
    const { pose, was } = this;
    const found = judged(pose, this.meta);
    this.fits = found.margin >= 0 && found.pads;
    this.moved = pose.x !== was.x || pose.y !== was.y || pose.angle !== was.angle;
    this.member.setAttribute("transform", `translate(${pose.x} ${-pose.y}) rotate(${-pose.angle})`);
    this.ghost.style.display = this.moved ? "" : "none";
    this.sheet.svg.dataset.fits = this.fits ? "yes" : "no";
    this.sheet.svg.dataset.margin = found.margin;
    const unit = this.sheet.unit ?? 1;
    const long = this.meta.moves.body[1][0];
    onBed([[-AWAY * unit, 0], [long + AWAY * unit, 0]], pose).forEach(([x, y], end) => {
      for (const [k, v] of [["cx", x], ["cy", -y], ["r", 12 * unit]]) this.handles[end].setAttribute(k, v);
    });
    const [x, y] = found.point;
    const right = x > this.meta.reach[0] / 2;
    this.near.replaceChildren(svg("circle", { cx: x, cy: -y, r: 6 * unit, class: "ring" }), words([x + (right ? -9 : 9) * unit, y + 9 * unit], size(found.margin, 1), right ? "end" : "start", "strong"));
    this.tell(found);
    for (const [k, input] of Object.entries(this.boxes)) input.value = Number(k === "angle" ? pose[k].toFixed(3) : outward(pose[k]).toFixed(Math.min(places(3), 4)));
    this.back.disabled = !this.moved;
  }

  tell(found) {
    const at = `nearest: ${found.name}, at the ${found.end}`;
    const wanted = this.meta.moves.wanted;
    const spare = size(found.margin, 2);
    let [verdict, text] = ["go", `${spare} to spare, ${short(wanted, 2)} wanted; ${at}.`];
    if (found.margin < 0) [verdict, text] = ["no-go", `It does not fit: ${size(-found.margin, 2)} missing; ${at}.`];
    else if (!found.pads) [verdict, text] = ["no-go", "Its cuts would fit, but no pads could be cut in place here."];
    else if (found.margin < wanted - 1e-6) verdict = "caution";
    if (this.moved) text += this.fits ? " Not yet written." : " Not written into the job.";
    else if (this.expected !== undefined) {
      const apart = Math.abs(this.expected - this.meta.lie.margin);
      text += apart < 0.02 ? " Written, and worked out anew: the same." : ` Written; worked out anew it is ${size(this.meta.lie.margin, 2)}.`;
    } else text += this.meta.said.angle ? " Where the job puts it." : " Where Sparwright puts it.";
    this.told.dataset.verdict = verdict;
    this.told.replaceChildren(mark(verdict), make("span", {}, text));
  }

  // --- by hand ---

  move(event) {
    const [from, start] = [this.sheet.at(event), { ...this.pose }];
    this.follow(event, ([x, y]) => {
      this.pose = { ...start, x: start.x + x - from[0], y: start.y + y - from[1] };
      this.keepNear();
    });
  }

  /** The member's middle stays over the reach, so that a hand cannot lose it. */
  keepNear() {
    const middle = this.middle();
    const [x, y] = middle.map((v, k) => Math.min(Math.max(v, 0), this.meta.reach[k]));
    this.pose = { ...this.pose, x: this.pose.x + x - middle[0], y: this.pose.y + y - middle[1] };
  }

  turn(event, end) {
    const middle = this.middle();
    const start = this.pose.angle;
    this.follow(event, ([x, y]) => {
      const turned = (Math.atan2(y - middle[1], x - middle[0]) * 180) / Math.PI + (end === 0 ? 180 : 0);
      this.turnTo(start + ((((turned - start) % 360) + 540) % 360) - 180, middle);
    });
  }

  follow(event, moved) {
    if (event.button !== 0) return;
    event.preventDefault();
    this.frame.focus({ preventScroll: true });
    const target = event.currentTarget;
    target.setPointerCapture(event.pointerId);
    const before = this.pose;
    this.held = true;
    const place = this.sheet.svg.getBoundingClientRect(); // words over the drawing may grow by a line meanwhile
    let waiting = false;
    target.onpointermove = (next) => {
      moved(this.sheet.at(next, place));
      if (waiting) return;
      waiting = true;
      requestAnimationFrame(() => {
        waiting = false;
        this.show();
      });
    };
    target.onpointerup = target.onpointercancel = (last) => {
      target.onpointermove = target.onpointerup = target.onpointercancel = null;
      this.held = false;
      if (last.type === "pointercancel") this.pose = before;
      this.show();
      if (this.moved && last.type === "pointerup") this.write();
    };
  }

  middle() {
    return onBed([[this.meta.moves.body[1][0] / 2, 0]], this.pose)[0];
  }

  turnTo(angle, [mx, my] = this.middle()) {
    const wrapped = ((((angle + 180) % 360) + 360) % 360) - 180;
    const half = this.meta.moves.body[1][0] / 2;
    const a = (wrapped * Math.PI) / 180;
    this.pose = { angle: wrapped, x: mx - half * Math.cos(a), y: my - half * Math.sin(a) };
  }

  // --- by keys and figures ---

  key(event) {
    if (event.target !== this.frame) return;
    const step = keyStep() * (event.shiftKey ? 10 : 1);
    const way = { ArrowLeft: [-step, 0], ArrowRight: [step, 0], ArrowDown: [0, -step], ArrowUp: [0, step] }[event.key];
    const turn = { "+": 0.1, "=": 0.1, "-": -0.1, PageUp: 1, PageDown: -1 }[event.key];
    if (way) {
      this.pose = { ...this.pose, x: this.pose.x + way[0], y: this.pose.y + way[1] };
      this.keepNear();
    } else if (turn) this.turnTo(this.pose.angle + turn);
    else if (event.key === "Enter") this.write();
    else if (event.key === "Escape") this.putBack();
    else return;
    event.preventDefault();
    this.show();
  }

  typed() {
    const values = Object.fromEntries(Object.entries(this.boxes).map(([k, input]) => [k, k === "angle" ? Number(input.value) : inward(Number(input.value))]));
    if (Object.entries(this.boxes).some(([k, i]) => i.value === "" || !Number.isFinite(values[k]))) return this.show();
    this.pose = { ...values, angle: Math.min(Math.max(values.angle, -180), 180) };
    this.show();
    this.write();
  }

  putBack() {
    this.pose = { ...this.was };
    this.show();
  }

  /** Write the pose into the job, if it fits as it would stand there. */
  write() {
    const inch = unitsShown() === "inch";
    const [x, y] = [this.pose.x, this.pose.y].map((v) => round(outward(v), inch ? 1000 : 100)); // 0.001 in or 0.01 mm
    this.pose = { x: inward(x), y: inward(y), angle: round(this.pose.angle, 1000) };
    this.show();
    if (!this.fits || !this.moved) return;
    this.expected = Number(this.sheet.svg.dataset.margin);
    this.act.edit([
      { file: "job", path: ["placing", "angle"], value: this.pose.angle },
      { file: "job", path: ["placing", "at"], value: inch ? [`${x} in`, `${y} in`] : [x, y] },
    ]);
  }

  /** Take the pose out of the job. */
  leave() {
    const keys = ["at", "angle"].filter((k) => this.meta.said[k]);
    this.expected = undefined;
    this.act.edit(keys.map((k) => ({ file: "job", path: ["placing", k], value: null })));
  }
}
