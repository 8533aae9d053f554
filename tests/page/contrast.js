// Every piece of text that stands out less than WCAG 2.2 AA asks: 4.5 to 1, 3 to 1 for large text. Greyed answers too,
// and words in drawings against what is painted under them.
() => {
  const light = (rgb) => {
    const [r, g, b] = rgb.map((c) => (c / 255 <= 0.04045 ? c / 255 / 12.92 : ((c / 255 + 0.055) / 1.055) ** 2.4));
    return 0.2126 * r + 0.7152 * g + 0.0722 * b;
  };
  const numbers = (colour) => (colour === "none" ? [0, 0, 0, 0] : colour.match(/[\d.]+/g).map(Number));
  const over = ([r, g, b, a = 1], share, below) => [r, g, b].map((c, k) => c * a * share + below[k] * (1 - a * share));
  const ground = (element) => {
    for (let e = element; e; e = e.parentElement) {
      const [r, g, b, a = 1] = numbers(getComputedStyle(e).backgroundColor);
      if (a > 0.99) return [r, g, b];
    }
    return [255, 255, 255];
  };
  /** What is painted in a drawing under a point of the window, before `element`. */
  const painted = (element, x, y) => {
    let colour = ground(element.ownerSVGElement.parentElement);
    for (const shape of element.ownerSVGElement.querySelectorAll("path, rect, circle, polygon, ellipse")) {
      if (!(shape.compareDocumentPosition(element) & Node.DOCUMENT_POSITION_FOLLOWING) || !shape.isPointInFill) continue;
      const style = getComputedStyle(shape);
      const matrix = shape.getScreenCTM();
      if (style.fill === "none" || style.fill.startsWith("url") || !matrix || !shape.getClientRects().length) continue;
      if (shape.isPointInFill(new DOMPoint(x, y).matrixTransform(matrix.inverse()))) {
        colour = over(numbers(style.fill), Number(style.fillOpacity) * Number(style.opacity), colour);
      }
    }
    return colour;
  };
  const weak = [];
  const judge = (element, colour, below, size, bold) => {
    const [a, b] = [light(over(colour, 1, below)), light(below)];
    const ratio = (Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05);
    const large = size >= 24 || (size >= 18.66 && bold);
    if (ratio < (large ? 3 : 4.5)) weak.push(`${ratio.toFixed(2)} ${element.textContent.slice(0, 40)}`);
  };
  let inDrawings = 0;
  for (const element of document.querySelectorAll("body *")) {
    const own = [...element.childNodes].some((n) => n.nodeType === Node.TEXT_NODE && n.textContent.trim());
    if (!own || !element.getClientRects().length || element.disabled) continue;
    const style = getComputedStyle(element);
    const [size, bold] = [parseFloat(style.fontSize), Number(style.fontWeight) >= 700];
    if (!element.closest("svg")) judge(element, numbers(style.color), ground(element), size, bold);
    else if (element.localName === "text" && style.visibility !== "hidden") {
      const box = element.getBoundingClientRect();
      inDrawings += 1;
      for (const share of [0.15, 0.5, 0.85]) {
        const below = painted(element, box.left + share * box.width, box.top + box.height / 2);
        judge(element, numbers(style.fill), below, box.height, bold);
      }
    }
  }
  return { weak, inDrawings };
};
