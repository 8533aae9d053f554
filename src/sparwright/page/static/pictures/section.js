// The section with its walls, drawn by the server as SVG.

/** Draw into `host`; data.meta: svg, words. */
export function draw(host, data) {
  const update = ({ meta }) => {
    const svg = new DOMParser().parseFromString(meta.svg, "image/svg+xml").documentElement;
    svg.setAttribute("role", "img");
    svg.setAttribute("aria-label", meta.words);
    svg.removeAttribute("width");
    svg.removeAttribute("height");
    host.replaceChildren(document.importNode(svg, true));
  };
  update(data);
  return { update };
}
