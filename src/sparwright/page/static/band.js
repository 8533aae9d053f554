// One band of the sheet: question, verdict, sentence, margin bar; opened, its pictures, controls and findings.

import { Controls } from "./controls.js";
import { pictureData } from "./data.js";
import { make, say } from "./dom.js";
import { how } from "./help.js";
import { marginBar, mark } from "./marks.js";
import { unitsShown } from "./units.js";

const FEW = 8; // findings shown at first; all that are not go besides

export class Band {
  constructor(question, act) {
    this.question = question;
    this.act = act;
    this.open = false;
    this.figures = new Map();
    this.shown = "";
    this.turn = make("span", { class: "turn", "aria-hidden": "true" }, "open");
    this.words = make("span", { class: "words" });
    this.button = make(
      "button",
      { type: "button", "aria-expanded": "false", "aria-controls": `inside-${question}`, onclick: () => this.toggle() },
      make("span", { class: "number" }, String(question)),
      this.words,
      this.turn,
    );
    this.verdict = make("p", { class: "verdict" });
    this.headline = make("p", { class: "headline" });
    this.margin = make("div", { class: "margin" });
    this.note = make("p", { class: "note", hidden: true });
    this.controls = new Controls(act);
    this.pictures = make("div", { class: "pictures" });
    this.findings = make("table", { class: "findings" });
    this.whole = false;
    this.all = make("button", { type: "button", class: "all", hidden: true, onclick: () => this.showAll() });
    this.inside = make("div", { class: "inside", id: `inside-${question}`, hidden: true });
    const whole = how(`question-${question}#how-it-is-computed`, "how this question is answered", `how this question is answered: ${question}`);
    this.inside.append(this.controls.element, this.pictures, this.findings, this.all, make("p", { class: "whole" }, whole));
    const heading = make("h2", { id: `question-${question}` }, this.button);
    this.element = make(
      "section",
      { class: "band", "aria-labelledby": heading.id },
      make("div", { class: "row" }, heading, this.verdict, this.headline, this.margin, this.note),
      this.inside,
    );
  }

  toggle() {
    this.open = !this.open;
    this.button.setAttribute("aria-expanded", String(this.open));
    say(this.turn, this.open ? "close" : "open");
    this.inside.hidden = !this.open;
    if (this.state) this.update(this.state);
  }

  /** Show a state of the page. */
  update(state) {
    this.state = state;
    this.show(this.act.answer(this.question), state);
    const controls = state.controls.filter((c) => c.band === this.question);
    const pictures = state.pictures.filter((p) => p.band === this.question);
    this.inside.classList.toggle("plain", controls.length === 0 || pictures.length === 0);
    this.controls.element.hidden = controls.length === 0;
    this.pictures.hidden = pictures.length === 0;
    if (this.open) {
      this.controls.update(controls);
      for (const picture of pictures) this.figure(picture).update(picture, state);
    }
  }

  show(band, state) {
    this.element.dataset.status = band.status;
    say(this.words, band.title);
    const word = band.word || (band.status === "working" ? "working" : "no answer yet");
    const shape = band.word === band.verdict ? band.verdict : null;
    const key = JSON.stringify([band, word, state?.message !== null]);
    if (key === this.shown) return;
    this.shown = key;
    this.verdict.dataset.verdict = shape ?? "";
    this.verdict.replaceChildren(mark(shape), make("span", {}, word));
    say(this.headline, band.headline);
    const bar = band.margin && [marginBar(band.margin), make("p", {}, band.margin.words)];
    this.margin.replaceChildren(...(bar ?? [make("p", {}, band.verdict ? "No limit is set that could be used up." : "")]));
    this.say(band, state);
    this.table(band);
  }

  say(band, state) {
    let words = "";
    if (band.status === "stale" && band.verdict) words = state?.message ? "As of before this mistake." : "As of before the last change.";
    else if (band.status === "working" && band.verdict) words = "Being worked out anew";
    else if (band.status === "tried") words = band.waits ? "Tried: the mass at once, the rest follows" : "Tried, not yet written";
    else if (band.by === "quick") words = "A quick answer; the whole plan refines it.";
    say(this.note, words);
    this.note.hidden = words === "";
    this.note.classList.toggle("working", band.status === "working");
  }

  table(band) {
    const head = ["verdict", "finding", "value", "limit", "to spare", "why"].map((word) => make("th", { scope: "col" }, word));
    const danger = band.findings.filter((f) => f.verdict !== "go").length;
    const listed = this.whole ? band.findings : band.findings.slice(0, Math.max(FEW, danger));
    this.all.hidden = band.findings.length <= Math.max(FEW, danger);
    say(this.all, this.whole ? "Show the tightest findings only" : `Show all ${band.findings.length} findings`);
    const rows = listed.map((f) =>
      make(
        "tr",
        {},
        make("td", { class: "mark" }, mark(f.verdict), f.verdict),
        make("th", { scope: "row" }, f.name),
        ...[["value", f.shown.value], ["limit", f.shown.limit], ["to spare", f.shown.margin]].map(([name, text]) =>
          make("td", { class: "figure", "data-name": name }, text),
        ),
        make("td", {}, f.why, ...(f.where ? [" ", make("span", { class: "where" }, f.where)] : []), " ", how(f.derived, "how", `how ${f.name} is found`)),
      ),
    );
    this.findings.hidden = rows.length === 0;
    this.findings.replaceChildren(make("caption", {}, "Findings"), make("thead", {}, make("tr", {}, ...head)), make("tbody", {}, ...rows));
  }

  showAll() {
    this.whole = !this.whole;
    this.table(this.act.answer(this.question));
  }

  figure({ name, title }) {
    if (!this.figures.has(name)) {
      const figure = new Figure(name, title, this.act);
      this.figures.set(name, figure);
      this.pictures.append(figure.element);
    }
    return this.figures.get(name);
  }
}

/** One picture: its module is fetched when first wanted, its data whenever it has changed. One fetch in flight. */
class Figure {
  constructor(name, title, act) {
    this.name = name;
    this.act = act;
    this.waiting = make("p", { class: "waiting" }, "Not there yet.");
    this.host = make("div", { class: "host" }, this.waiting);
    this.element = make("figure", { "data-picture": name }, make("figcaption", {}, title), this.host);
    this.have = null;
    this.busy = false;
  }

  async update(picture, state) {
    this.wanted = picture.digest && `${picture.digest} ${unitsShown()}`;
    this.state = state;
    this.drawn?.state?.(state);
    const { step, done, of } = picture.making ?? {};
    if (this.waiting.isConnected) say(this.waiting, step ? `Being made: ${step}, ${done + 1} of ${of}` : this.wanted ? "Being made …" : "Not there yet.");
    if (this.busy || !this.wanted || this.wanted === this.have) return;
    this.busy = true;
    try {
      while (this.wanted && this.wanted !== this.have) {
        const asked = this.wanted;
        const [module, data] = await Promise.all([import(`./pictures/${this.name}.js`), pictureData(this.name)]);
        this.have = asked;
        if (data === null) break;
        if (data.meta.nothing) {
          this.drawn = null;
          this.host.replaceChildren(make("p", { class: "waiting" }, data.meta.nothing));
        } else if (this.drawn) this.drawn.update(data);
        else {
          this.host.replaceChildren();
          this.drawn = module.draw(this.host, data, this.act);
          this.drawn.state?.(this.state);
        }
        this.element.dataset.ready = data.digest;
      }
    } finally {
      this.busy = false;
    }
  }
}
