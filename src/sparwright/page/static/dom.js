// Small helpers to make and change elements. Text goes in as text, never as markup.

const SVG = "http://www.w3.org/2000/svg";

/** An HTML element with attributes and children (texts or elements). */
export function make(tag, attributes = {}, ...children) {
  return fill(document.createElement(tag), attributes, children);
}

/** The same for SVG. */
export function draw(tag, attributes = {}, ...children) {
  return fill(document.createElementNS(SVG, tag), attributes, children);
}

function fill(element, attributes, children) {
  for (const [key, value] of Object.entries(attributes)) {
    if (value === null || value === undefined || value === false) continue;
    if (key.startsWith("on")) element.addEventListener(key.slice(2), value);
    else element.setAttribute(key, value === true ? "" : String(value));
  }
  element.append(...children.filter((child) => child !== null));
  return element;
}

/** A drawing that the server made, as an SVG element of that class, told in words to those who do not see it. */
export function picture(markup, words, kind = "") {
  const svg = document.importNode(new DOMParser().parseFromString(markup, "image/svg+xml").documentElement, true);
  for (const [key, value] of Object.entries({ role: "img", "aria-label": words, class: kind })) svg.setAttribute(key, value);
  for (const key of ["width", "height"]) svg.removeAttribute(key);
  return svg;
}

/** Change an element's text only where it differs, so that screen readers are not told twice. */
export function say(element, text) {
  if (element.textContent !== text) element.textContent = text;
}
