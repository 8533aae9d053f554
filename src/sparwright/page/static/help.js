// Help in place: a small button at a figure opens the paragraph of the documentation that derives it, over the page.

import { make, say } from "./dom.js";

/** A button that opens a place of the documentation ("page#anchor"); null where there is none. */
export function how(place, word, name) {
  if (!place) return null;
  return make("button", { type: "button", class: "how", "aria-label": name, "aria-haspopup": "dialog", onclick: () => open(place) }, word);
}

let parts = null;
let been = []; // places gone through, the one shown last

function build() {
  const back = make("button", { type: "button", onclick: () => leave() }, "Back");
  const title = make("span", { id: "help-of" });
  const close = make("button", { type: "button", onclick: () => dialog.close() }, "Close");
  const body = make("div", { class: "help-body" });
  const dialog = make("dialog", { class: "help-dialog", "aria-labelledby": "help-of" }, make("div", { class: "help-head" }, back, title, close), body);
  dialog.addEventListener("click", (event) => {
    if (event.target === dialog) dialog.close(); // beside it
  });
  body.addEventListener("click", (event) => {
    const link = event.target.closest("a[href]");
    if (!link || link.target) return;
    event.preventDefault();
    const [page, anchor] = link.getAttribute("href").split("#");
    show(`${page || been.at(-1).split("#")[0]}#${anchor ?? ""}`);
  });
  document.body.append(dialog);
  return { dialog, title, back, body };
}

function open(place) {
  parts ??= build();
  been = [];
  parts.dialog.showModal();
  show(place);
}

function leave() {
  been.pop();
  show(been.pop());
}

async function show(place) {
  been.push(place);
  const { title, back, body } = parts;
  back.hidden = been.length < 2;
  const [page, anchor] = place.split("#");
  const article = await fetched(page);
  if (been.at(-1) !== place) return; // another was asked for meanwhile
  if (article === null) {
    say(title, "Help");
    body.replaceChildren(make("p", {}, "This page of the documentation cannot be had; is the page's server still running?"));
    return;
  }
  const [whole] = anchor.split(".");
  const meant = at(article, anchor) ?? at(article, whole) ?? article.querySelector("h1");
  say(title, article.querySelector("h1").textContent);
  for (const named of article.querySelectorAll("[id]")) named.id = `help-${named.id}`; // the page has names of its own
  meant.classList.add("meant");
  meant.tabIndex = -1;
  body.replaceChildren(article);
  meant.scrollIntoView({ block: meant.tagName.startsWith("H") ? "start" : "center" });
  meant.focus({ preventScroll: true });
}

const at = (article, name) => (name ? article.querySelector(`#${CSS.escape(name)}`) : null);

/** A page's text as elements; null where it cannot be had. */
async function fetched(page) {
  try {
    const reply = await fetch(`help/${encodeURIComponent(page)}`);
    if (!reply.ok) return null;
    return document.importNode(new DOMParser().parseFromString(await reply.text(), "text/html").querySelector("article"), true);
  } catch {
    return null;
  }
}
