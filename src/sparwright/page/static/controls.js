// What can be varied, as labelled inputs. While one is moved its change is only tried; let go, it is written.

import { make, say } from "./dom.js";
import { how } from "./help.js";

/** The inputs of one band. act.attempt(changes) while moving, act.edit(changes) when done. */
export class Controls {
  constructor(act) {
    this.act = act;
    this.element = make("div", { class: "controls" });
    this.rows = new Map();
    this.shape = "";
  }

  /** Show these controls; inputs stay the same elements as long as the list of them does. */
  update(controls) {
    const shape = controls.map((c) => `${c.id} ${c.kind} ${c.choices}`).join("\n");
    if (shape !== this.shape) {
      this.shape = shape;
      this.rows.clear();
      this.element.replaceChildren(...this.groups(controls));
    }
    for (const control of controls) this.rows.get(control.id).update(control);
  }

  groups(controls) {
    const groups = new Map();
    for (const control of controls) {
      if (!groups.has(control.group)) groups.set(control.group, make("fieldset", {}, make("legend", {}, control.group)));
      const row = { number: numberRow, choice: choiceRow, many: manyRow }[control.kind](control, this.act);
      this.rows.set(control.id, row);
      groups.get(control.group).append(row.element);
    }
    return groups.values();
  }
}

/** A change of a control; a number in an inch unit is written with that unit, since bare numbers in the file are metric. */
function change(control, value) {
  const written = typeof value === "number" && control.write ? `${value} ${control.write}` : value;
  return [{ file: control.file, path: control.path, value: written }];
}
let count = 0;

/** A label with the way to the paragraph that tells of its value. */
const named = (label, control) => make("span", { class: "named" }, label, " ", how(control.derived, "more", `more about ${control.label}`));

function numberRow(first, act) {
  let control = first;
  let held = false;
  const id = `c${++count}`;
  const label = make("label", { for: id }, "");
  const slider = make("input", { type: "range", "aria-label": `${first.group}: ${first.label}, slider` });
  const box = make("input", { type: "number", id, inputmode: "decimal" });
  const unit = make("span", { class: "unit" });
  const hint = make("p", { class: "hint", id: `${id}-hint` });
  if (first.hint) for (const input of [slider, box]) input.setAttribute("aria-describedby", hint.id);
  const moved = (value) => {
    held = true;
    act.attempt(change(control, value));
  };
  const done = (value) => {
    held = false;
    act.edit(change(control, value));
  };
  slider.addEventListener("input", () => {
    box.value = slider.value;
    moved(Number(slider.value));
  });
  slider.addEventListener("change", () => done(Number(slider.value)));
  box.addEventListener("focus", () => (held = true));
  box.addEventListener("blur", () => (held = false));
  box.addEventListener("change", () => {
    if (box.value === "" && control.auto) done(null);
    else if (box.value !== "" && Number.isFinite(Number(box.value))) done(Number(box.value));
    else box.value = control.value ?? "";
  });
  const element = make("div", { class: "control", title: first.help }, named(label, first), slider, box, unit, hint);
  return {
    element,
    update(next) {
      control = next;
      const assumed = next.value === null ? " (chosen by itself)" : next.said ? "" : " (assumed)";
      say(label, next.label + assumed);
      say(hint, next.hint);
      hint.hidden = !next.hint;
      for (const input of [slider, box]) Object.assign(input, { min: next.low, max: next.high, step: next.step });
      box.removeAttribute("min");
      box.removeAttribute("max");
      box.step = "any";
      say(unit, next.unit);
      if (!held) {
        slider.value = next.value ?? (next.low + next.high) / 2;
        box.value = next.value === null ? "" : Number(next.value.toPrecision(9));
      }
    },
  };
}

function choiceRow(first, act) {
  let control = first;
  const id = `c${++count}`;
  const select = make("select", { id }, ...first.choices.map((c) => make("option", { value: c }, c)));
  select.addEventListener("change", () => {
    const besides = (control.with_it[select.value] ?? []).map(([path, value]) => ({ file: control.file, path, value }));
    act.edit([...change(control, select.value), ...besides]);
  });
  return {
    element: make("div", { class: "control", title: first.help }, named(make("label", { for: id }, first.label), first), select),
    update(next) {
      control = next;
      select.value = next.value;
    },
  };
}

function manyRow(first, act) {
  let control = first;
  const boxes = first.choices.map((c) => make("input", { type: "checkbox", value: c }));
  const several = make("span", { class: "many" }, ...boxes.map((box) => make("label", {}, box, box.value)));
  several.addEventListener("change", () => {
    const chosen = boxes.filter((b) => b.checked).map((b) => b.value);
    if (chosen.length) act.edit(change(control, chosen));
    else for (const b of boxes) b.checked = control.value.includes(b.value);
  });
  const label = make("span", { class: "label", id: `c${++count}` }, first.label);
  const element = make("div", { class: "control", role: "group", "aria-labelledby": label.id, title: first.help }, named(label, first), several);
  return {
    element,
    update(next) {
      control = next;
      for (const box of boxes) box.checked = next.value.includes(box.value);
    },
  };
}
