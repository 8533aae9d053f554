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

/** Change an element's text only where it differs, so that screen readers are not told twice. */
export function say(element, text) {
  if (element.textContent !== text) element.textContent = text;
}
