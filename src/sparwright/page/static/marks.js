// Verdict marks and margin bars: shapes first, colour only besides.

import { draw } from "./dom.js";

/** The mark of a verdict: a ring for go, a triangle for caution, a crossed square for no-go, dots for none yet. */
export function mark(verdict) {
  const svg = draw("svg", { viewBox: "0 0 20 20", "aria-hidden": "true", focusable: "false" });
  const line = { fill: "none", stroke: "currentColor", "stroke-width": 2.4 };
  if (verdict === "go") svg.append(draw("circle", { cx: 10, cy: 10, r: 7.6, ...line }));
  else if (verdict === "caution") {
    svg.append(draw("path", { d: "M10 2 L18.6 17.6 H1.4 Z", "stroke-linejoin": "round", ...line }));
    svg.append(draw("path", { d: "M10 7.4 V12.4 M10 14 V16", ...line, "stroke-width": 2 }));
  } else if (verdict === "no-go") {
    svg.append(draw("rect", { x: 1, y: 1, width: 18, height: 18, fill: "currentColor" }));
    svg.append(draw("path", { d: "M5.5 5.5 L14.5 14.5 M14.5 5.5 L5.5 14.5", stroke: "#fff", "stroke-width": 2.6 }));
  } else for (const x of [4, 10, 16]) svg.append(draw("circle", { cx: x, cy: 10, r: 1.5, fill: "currentColor" }));
  return svg;
}

const FULL = 1.3; // shares of the limit that the bar's length stands for

/** How much of a limit is used: the bar grows from the left, the tall tick is the limit; a whisker is the spread. */
export function marginBar(margin) {
  const x = (share) => 4 + (Math.min(Math.max(share, 0), FULL) / FULL) * 232;
  const svg = draw("svg", { viewBox: "0 0 240 20", "aria-hidden": "true", preserveAspectRatio: "none" });
  const over = margin.used > 1;
  svg.append(draw("path", { d: "M4 12.5 H236", stroke: "#86847c", "stroke-width": 1 }));
  svg.append(
    draw("rect", { x: 4, y: 8, width: Math.max(x(margin.used) - 4, 1), height: 9, fill: over ? "#1d1d1b" : "#8f8d86" }),
  );
  if (margin.spread) {
    const [from, to] = [x(margin.used - margin.spread), x(margin.used + margin.spread)];
    svg.append(draw("path", { d: `M${from} 12.5 H${to} M${from} 9.5 V15.5 M${to} 9.5 V15.5`, stroke: "#1d1d1b", "stroke-width": 1.5 }));
  }
  svg.append(draw("path", { d: `M${x(1)} 1 V19`, stroke: "#1d1d1b", "stroke-width": 2.5 }));
  return svg;
}
