// Every piece of text that stands out less than WCAG 2.2 AA asks: 4.5 to 1, 3 to 1 for large text. Greyed answers too.
() => {
  const light = (rgb) => {
    const [r, g, b] = rgb.map((c) => (c / 255 <= 0.04045 ? c / 255 / 12.92 : ((c / 255 + 0.055) / 1.055) ** 2.4));
    return 0.2126 * r + 0.7152 * g + 0.0722 * b;
  };
  const numbers = (colour) => colour.match(/[\d.]+/g).map(Number);
  const ground = (element) => {
    for (let e = element; e; e = e.parentElement) {
      const [r, g, b, a = 1] = numbers(getComputedStyle(e).backgroundColor);
      if (a > 0.99) return [r, g, b];
    }
    return [255, 255, 255];
  };
  const weak = [];
  for (const element of document.querySelectorAll("body *")) {
    const own = [...element.childNodes].some((n) => n.nodeType === Node.TEXT_NODE && n.textContent.trim());
    if (!own || !element.getClientRects().length || element.closest("svg") || element.disabled) continue;
    const style = getComputedStyle(element);
    const [a, b] = [light(numbers(style.color).slice(0, 3)), light(ground(element))];
    const ratio = (Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05);
    const size = parseFloat(style.fontSize);
    const large = size >= 24 || (size >= 18.66 && Number(style.fontWeight) >= 700);
    if (ratio < (large ? 3 : 4.5)) weak.push(`${ratio.toFixed(2)} ${element.textContent.slice(0, 40)}`);
  }
  return weak;
};
