// The job page: six bands that follow the state the server tells.

import { Band } from "./band.js";
import { ask, listen } from "./data.js";
import { make, say } from "./dom.js";
import { Packet } from "./packet.js";
import { showIn } from "./units.js";

const at = (id) => document.getElementById(id);
let state = null;
let refusal = null; // of something this page asked for; gone with the next thing that succeeds

/** What controls and pictures may ask for. */
const act = {
  /** The answer of a band: the state's, or a tried one until the state answers the same text. */
  answer(question) {
    const known = state.bands[question - 1];
    const { base, band } = tried.get(question) ?? {};
    if (base === state.digest || (band && band.as_of === state.basis && known.as_of !== state.basis)) return band;
    tried.delete(question);
    return known;
  },

  /** Write changes [{file, path, value}] into the job. */
  async edit(changes) {
    trying.next = null;
    trying.round += 1; // what is still under way is of no use any more
    took(await ask("edit", { digest: state.digest, changes }));
  },

  /** Have the packet made of the plan as it is. */
  async pack() {
    took(await ask("packet", { digest: state.digest }));
  },

  /** Show what changes would make of the quick answer, the mass at once and the rest after it; nothing is written. */
  async attempt(changes) {
    trying.next = changes;
    if (trying.busy) return;
    trying.busy = true;
    try {
      while (trying.next) {
        const wanted = trying.next;
        trying.next = null;
        const [base, round] = [state.digest, trying.round];
        if (!(await attemptPart(base, wanted, round, true))) continue;
        // A hand still moving wants the mass of where it is now; the rest is found for it now and then.
        if (trying.next && performance.now() - trying.whole < PATIENCE) continue;
        await attemptPart(base, wanted, round, false);
        trying.whole = performance.now();
      }
    } finally {
      trying.busy = false;
    }
  },
};
const PATIENCE = 250; // ms that a moving hand does without the figures that take longer

/** Ask for the first or for all figures of a try and show them; whether there is more to ask for. */
async function attemptPart(base, changes, round, first) {
  const reply = await ask("try", { digest: base, changes, first });
  if (!reply.ok || round !== trying.round) return false;
  for (const band of reply.answer.bands) {
    const shown = first ? withFirst(act.answer(band.question), band) : band;
    tried.set(band.question, { base, band: { ...shown, status: "tried", waits: first } });
    bands[band.question - 1].update(state);
  }
  showMessage(reply.answer.message?.text ?? null);
  return reply.answer.message === null;
}

/** The band as it is shown with those findings changed that are known already. */
function withFirst(shown, first) {
  const known = new Map(first.findings.map((f) => [f.name, f]));
  const findings = shown.findings.map((f) => known.get(f.name) ?? f);
  return { ...shown, as_of: first.as_of, findings };
}
const tried = new Map(); // by question: the text a try was made on, and the band it gave
const trying = { busy: false, next: null, round: 0, whole: 0 };
const bands = [1, 2, 3, 4, 5, 6].map((question) => new Band(question, act));

function took(reply) {
  refusal = reply.ok ? null : reply.message;
  if (!reply.ok) tried.clear();
  const next = reply.ok ? reply.answer : reply.state;
  if (next) show(next);
  else showMessage(refusal);
}

function show(next) {
  if (state && next.version < state.version) return;
  if (!state) setTimeout(() => import("./pictures/member.js")); // loaded while the first answer is worked out
  state = next;
  showIn(state.units);
  document.title = state.title || state.file;
  say(at("title"), state.title || state.file);
  say(at("file"), state.title ? state.file : "");
  for (const band of bands) band.update(state);
  for (const units of ["mm", "inch"]) at(units).setAttribute("aria-pressed", String(units === state.units.shown));
  step(at("undo"), "Undo", state.undo);
  step(at("redo"), "Redo", state.redo);
  showMessage(state.message?.text ?? refusal);
  showWork(state.work);
  document.body.dataset.version = state.version;
}

function step(button, word, what) {
  button.setAttribute("aria-disabled", String(what === null));
  button.title = what ?? "";
  button.setAttribute("aria-label", what ? `${word}: ${what}` : word);
}

async function back(way) {
  if (state && state[way] !== null) took(await ask(way, { digest: state.digest }));
}

function showMessage(text) {
  at("message").hidden = text === null;
  say(at("message"), text ?? "");
}

const told = make("span", { role: "status" });
const bar = make("progress", { "aria-label": "Steps of the plan that are done", hidden: true });
const go = make("button", { type: "button", onclick: async () => took(await ask(state.work.running ? "stop" : "plan")) });
at("work").append(told, bar, go);
const packet = new Packet(at("packet"), act);

function showWork(work) {
  const whole = !work.running && state.bands.every((band) => band.by === "plan" && band.as_of === state.basis);
  if (work.running) {
    say(told, `Working out the whole plan: ${work.step}${work.of ? `, step ${work.number} of ${work.of}` : ""}`);
    Object.assign(bar, { max: work.of || 1, value: Math.max(work.number - 1, 0) });
  } else if (whole) say(told, "The whole plan is worked out and proved.");
  else if (state.message) say(told, "Nothing is worked out until that is mended: change the file and save it.");
  else say(told, work.stopped ? "Stopped; quick answers only." : state.when_asked ? "Quick answers; the whole plan when you ask for it." : "Quick answers; the whole plan follows.");
  told.className = work.running ? "working" : "";
  bar.hidden = !work.running;
  say(go, work.running ? "Stop" : "Work out the whole plan");
  const needless = !work.running && (whole || state.message !== null);
  if (needless && document.activeElement === go) packet.button.focus();
  go.hidden = needless;
  at("packet").hidden = false;
  packet.show(state, whole);
}

at("sheet").append(...bands.map((band) => band.element));
at("undo").addEventListener("click", () => back("undo"));
for (const units of ["mm", "inch"]) at(units).addEventListener("click", () => setUnits(units));
at("redo").addEventListener("click", () => back("redo"));
document.addEventListener("keydown", (event) => {
  const typing = event.target instanceof HTMLInputElement && event.target.type === "number";
  if (!(event.ctrlKey || event.metaKey) || event.key.toLowerCase() !== "z" || typing) return;
  event.preventDefault();
  back(event.shiftKey ? "redo" : "undo");
});

/** Write into the job in which units it is shown. */
function setUnits(units) {
  if (state && units !== state.units.shown) act.edit([{ file: "job", path: ["job", "units"], value: units }]);
}

function lost(closed) {
  if (closed === null) return;
  say(told, "The page's server does not answer. Start it again and open the address it prints.");
  told.className = "";
  go.hidden = at("packet").hidden = true;
}
listen(show, lost);
