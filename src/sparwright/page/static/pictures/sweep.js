// Many candidates at once: one or two keys varied, the sweep begun, watched and stopped, a candidate picked and used.

import { ask, fetched } from "../data.js";
import { draw as svg, make, say } from "../dom.js";
import { FrontPlot, candidateMark, figureText } from "../front.js";
import { mark } from "../marks.js";
import { inward, outward, sign, unitsShown } from "../units.js";

const FIRST = ["mass_out_kg", "twist_kept"]; // figures shown at first, across and up
let count = 0;

/** data.meta: most, keys; see pictures/sweep.py. */
export function draw(host, data, act) {
  const sweep = new Sweep(host, act);
  sweep.load(data.meta);
  return { update: (next) => sweep.load(next.meta), state: (state) => sweep.state(state) };
}

const same = (a, b) => a === b || (typeof a === "number" && typeof b === "number" && Math.abs(a - b) < 1e-9);

class Sweep {
  constructor(host, act) {
    this.act = act;
    const changed = () => {
      this.refuse(null);
      this.count();
    };
    this.rows = [new Row("vary", false, changed), new Row("and", true, changed)];
    this.many = make("span", { class: "told" });
    this.start = make("button", { type: "button", onclick: () => this.begin() }, "Sweep");
    this.message = make("p", { class: "sweep-message", role: "alert", hidden: true });
    this.bar = make("progress", { "aria-label": "Candidates done" });
    this.said = make("span", { class: "told", role: "status" });
    this.stop = make("button", { type: "button", onclick: () => ask("sweep/stop") }, "Stop the sweep");
    this.work = make("div", { class: "drawn-line", hidden: true }, this.bar, this.said, this.stop);
    this.older = make("p", { class: "keys", hidden: true });
    this.axes = [this.choice("across"), this.choice("up")];
    this.front = make("div", { class: "front-host" });
    this.card = make("div", { class: "candidate" });
    this.found = make("div", { hidden: true }, make("div", { class: "drawn-line" }, ...this.axes.map((a) => a.label)), this.front, legend(), this.card);
    host.append(...this.rows.map((r) => r.element), make("div", { class: "drawn-line" }, this.start, this.many), this.message, this.work, this.older, this.found);
    this.plot = new FrontPlot(this.front, (place) => this.take(place));
    this.pick = null;
    this.refused = null;
    this.chosen = false; // whether the candidate shown was picked by hand: it stays while others come in
    this.have = "";
  }

  choice(word) {
    const select = make("select", { onchange: () => this.show() });
    return { select, label: make("label", {}, `${word} `, select) };
  }

  /** What can be varied, as the job is now. */
  load(meta) {
    this.meta = meta;
    for (const [i, row] of this.rows.entries()) row.load(meta.keys, i);
    this.count();
  }

  wanted() {
    return this.rows.map((row) => row.wanted()).filter((w) => w !== null);
  }

  count() {
    const wanted = this.wanted();
    const many = wanted.reduce((n, w) => n * w.count, 1);
    say(this.many, wanted.length ? `${many} candidates, at most ${this.meta.most}` : "There is no field of pockets to vary.");
    this.start.disabled = wanted.length === 0 || this.sweep?.running === true;
  }

  async begin() {
    const wanted = this.wanted();
    const whole = wanted.every((w) => Number.isInteger(w.count) && Number.isFinite(w.low) && Number.isFinite(w.high));
    if (!whole) return this.refuse("State where to begin, where to end, and a whole number of values.");
    this.chosen = false;
    const reply = await ask("sweep", { digest: this.known.digest, vary: wanted });
    this.refuse(reply.ok ? null : reply.message);
  }

  refuse(text) {
    this.refused = text;
    const words = text ?? this.sweep?.message ?? null;
    this.message.hidden = words === null;
    say(this.message, words ?? "");
  }

  async state(state) {
    this.known = state;
    this.sweep = state.sweep;
    const { running, step, done, total, seconds_left: left, stopped, number, holds } = state.sweep;
    this.work.hidden = !running && !stopped;
    this.stop.hidden = this.bar.hidden = !running;
    if (running && total) Object.assign(this.bar, { max: total, value: done });
    const time = left === null || done < 2 ? "" : `, ${left < 90 ? `${Math.ceil(left)} s` : `${Math.round(left / 60)} min`} left`;
    say(this.said, running ? (step === "candidates" ? `${done} of ${total} candidates done${time}` : `Under way: ${step}`) : done ? `Stopped; ${done} of ${total} candidates are kept.` : "Stopped; nothing is kept of it.");
    this.refuse(this.refused);
    this.count();
    this.older.hidden = number === 0 || (holds && !state.message);
    say(this.older, state.message ? "As of before this mistake." : "These candidates are of the job as it was before a change; sweep again for the job as it is.");
    const wanted = `${number} ${unitsShown()}`;
    if (number && wanted !== this.have) await this.fetch(wanted);
    else if (this.result) this.show();
  }

  async fetch(wanted) {
    this.have = wanted;
    const result = await fetched("sweep/result");
    if (result === null || wanted !== this.have) return;
    const picked = this.chosen ? this.result?.candidates[this.pick]?.values : undefined;
    const again = picked ? result.candidates.findIndex((c) => c.values.every((v, i) => same(v, picked[i]))) : -1;
    this.pick = again < 0 ? result.recommended : again;
    this.chosen = again >= 0;
    const names = result.figures.map((f) => f.name);
    if (names.join() !== this.result?.figures.map((f) => f.name).join()) {
      for (const [i, { select }] of this.axes.entries()) {
        select.replaceChildren(...result.figures.map((f) => make("option", { value: f.name }, f.label)));
        select.value = FIRST[i];
      }
    }
    this.result = result;
    this.found.hidden = false;
    this.show();
  }

  take(place) {
    this.pick = place;
    this.chosen = true;
    this.show();
  }

  /** The controls that stand for what was varied; undefined where the job has no such value any more. */
  controls() {
    return this.result.axes.map(({ field, key }) => this.known.controls.find((c) => c.group === field && c.file === "job" && c.path.at(-1) === key));
  }

  words(place) {
    const { candidates, axes } = this.result;
    const several = new Set(axes.map((a) => a.field)).size > 1;
    const said = candidates[place].values.map((value, i) => {
      const key = this.meta.keys.find((k) => k.field === axes[i].field && k.key === axes[i].key);
      const name = `${several ? `${axes[i].field}: ` : ""}${key?.label ?? axes[i].key}`;
      return `${name} ${short(value, key?.unit)} ${sign(key?.unit ?? "")}`.trim();
    });
    return said.join(", ");
  }

  show() {
    const { result } = this;
    if (result.figures.length) {
      const [across, up] = this.axes.map(({ select }) => result.figures.find((f) => f.name === select.value));
      const controls = this.controls();
      const now = result.candidates.findIndex((c) => c.values.every((v, i) => controls[i] && same(metric(controls[i]), v)));
      this.plot.show(result, { across, up, pick: this.pick, now, words: (place) => this.words(place) });
    }
    this.tell();
  }

  tell() {
    const { result, pick } = this;
    const key = JSON.stringify([result.number, unitsShown(), this.sweep.running, pick, this.controls().map((c) => c?.value), this.known.message !== null]);
    if (key === this.told) return;
    this.told = key;
    const parts = pick === null ? [make("p", {}, result.reason)] : this.candidate(result.candidates[pick]);
    const notes = result.notes.map((note) => make("p", { class: "keys" }, note));
    const kept = this.card.querySelector("button") === document.activeElement;
    this.card.replaceChildren(...parts, ...notes);
    if (kept) this.card.querySelector("button")?.focus();
  }

  /** The picked candidate: what it is, its figures, what it misses, and the button that writes it into the job. */
  candidate(c) {
    const { result, pick } = this;
    const figures = result.figures.map((f) => make("div", {}, make("dt", {}, f.label), make("dd", {}, figureText(c.figures[f.name], f.unit))));
    const misses = c.misses.map((miss) => make("p", { class: "miss" }, mark("no-go"), `Misses a wish: ${miss}.`));
    const controls = this.controls();
    const there = controls.every(Boolean);
    const used = there && c.values.every((v, i) => same(metric(controls[i]), v));
    const why = used ? "The job has these values." : there ? "" : "The job has no such values any more.";
    const use = make("button", { type: "button", "aria-disabled": String(used || !there || this.known.message !== null) }, "Use these values");
    use.addEventListener("click", () => {
      if (use.getAttribute("aria-disabled") === "true") return;
      this.act.edit(controls.map((control, i) => ({ file: control.file, path: control.path, value: c.values[i] })));
    });
    return [
      make("h3", { role: "status" }, this.words(pick)),
      make("dl", {}, ...figures),
      ...misses,
      pick === result.recommended ? make("p", {}, `Recommended. ${result.reason}`) : make("p", {}, this.sweep.running ? result.reason : c.front ? "On the front: none beats it in every goal." : "Another is at least as good in every goal and better in one."),
      ...(c.note ? [make("p", { class: "keys" }, `${c.note[0].toUpperCase()}${c.note.slice(1)}.`)] : []),
      make("div", { class: "drawn-line" }, use, make("span", { class: "told" }, why)),
    ];
  }
}

/** A value in a metric unit as the number that is shown, no longer than it must be. */
const short = (value, unit) => Number(outward(value, unit).toPrecision(unitsShown() === "inch" ? 4 : 9));

/** The value of a control in its metric unit. */
const metric = (control) => ("metric" in control ? control.metric : control.value);

/** One key with its range. What was typed stays as long as the key is there. */
class Row {
  constructor(word, optional, changed) {
    this.optional = optional;
    this.changed = changed;
    const id = `sweep-${++count}`;
    this.select = make("select", { id, onchange: () => this.propose() });
    const box = (name) => make("input", { type: "number", step: "any", inputmode: "decimal", "aria-label": `${word}, ${name}`, oninput: changed });
    [this.low, this.high, this.number] = ["from", "to", "number of values"].map(box);
    this.unit = make("span", { class: "unit" });
    this.range = make("span", { class: "sweep-range" }, this.number, " values from ", this.low, " to ", this.high, " ", this.unit);
    this.element = make("div", { class: "drawn-line sweep-row" }, make("label", { for: id }, word), this.select, this.range);
  }

  /** keys: as the picture's data states them; place: which of them this row begins with. */
  load(keys, place) {
    const shape = [unitsShown(), ...keys.map((k) => `${k.field} ${k.key}`)].join("\n");
    this.keys = keys;
    if (shape === this.shape) return;
    this.shape = shape;
    const fields = new Set(keys.map((k) => k.field));
    const names = keys.map((k, i) => make("option", { value: i }, fields.size > 1 ? `${k.field}: ${k.label}` : k.label));
    const none = this.optional || keys.length === 0 ? [make("option", { value: "" }, "nothing else")] : [];
    this.select.replaceChildren(...none, ...names);
    this.select.value = place < keys.length ? String(place) : "";
    this.propose();
  }

  propose() {
    const key = this.key();
    this.range.hidden = key === null;
    if (key !== null) {
      [this.low.value, this.high.value, this.number.value] = [short(key.low, key.unit), short(key.high, key.unit), key.count];
      say(this.unit, sign(key.unit));
    }
    this.changed();
  }

  key() {
    return this.select.value === "" ? null : (this.keys[Number(this.select.value)] ?? null);
  }

  wanted() {
    const key = this.key();
    if (key === null) return null;
    const number = (input, unit) => (input.value === "" ? NaN : inward(Number(input.value), unit));
    return { field: key.field, key: key.key, low: number(this.low, key.unit), high: number(this.high, key.unit), count: number(this.number, "") };
  }
}

function legend() {
  const kinds = [
    ["on the front: none beats it in every goal", { front: true, misses: [] }],
    ["beaten by another", { front: false, misses: [] }],
    ["misses a wish, on the front", { front: true, misses: [""] }],
    ["misses a wish, beaten", { front: false, misses: [""] }],
  ];
  const items = kinds.map(([words, kind]) => {
    const picture = svg("svg", { viewBox: "-8 -8 16 16", "aria-hidden": "true" });
    picture.append(candidateMark(kind));
    return make("span", { class: "told" }, picture, words);
  });
  return make("div", { class: "drawn-line front-keys" }, ...items, make("span", {}, "The line joins those none beats in the two figures shown. Pick one by pointer or, in the picture, by arrow keys."));
}
