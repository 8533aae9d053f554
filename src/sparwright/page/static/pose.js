// Whether a pose fits, worked out in the page: the same rule as the fit's, on the corners it hands over.

const EQUAL = 1e-6;

/** Points [[x, t], ...] on the bed for a pose {x, y, angle}, angle in degrees. */
export function onBed(points, { x, y, angle }) {
  const [c, s] = [Math.cos((angle * Math.PI) / 180), Math.sin((angle * Math.PI) / 180)];
  return points.map(([px, pt]) => [x + px * c - pt * s, y + px * s + pt * c]);
}

/** The least distance of points to the ends of the reach: {margin, point, end, name}. */
function toEnds({ points, names }, pose, [a, b]) {
  let least = { margin: Infinity };
  onBed(points, pose).forEach(([x, y], i) => {
    for (const [end, margin] of [["left", x], ["right", a - x], ["front", y], ["back", b - y]])
      if (margin < least.margin) least = { margin, end, point: [x, y], name: names[i] };
  });
  return least;
}

/** What of a convex ring lies between two heights. */
function between(ring, low, high) {
  for (const [sign, limit] of [[1, low], [-1, high]]) {
    const inside = ([, y]) => sign * (y - limit) >= 0;
    ring = ring.flatMap((p, i) => {
      const q = ring[(i + 1) % ring.length];
      const kept = inside(p) ? [p] : [];
      if (inside(p) !== inside(q)) kept.push([p[0] + ((q[0] - p[0]) * (limit - p[1])) / (q[1] - p[1]), limit]);
      return kept;
    });
  }
  return ring;
}

/** The least distance of the body to an upright. */
function toUprights(body, pose, { left, right, low, high }) {
  let least = { margin: Infinity };
  for (const [x, y] of between(onBed(body, pose), low, high))
    for (const [end, margin] of [["left upright", x - left], ["right upright", right - x]])
      if (margin < least.margin) least = { margin, end, point: [x, y], name: "the member's body" };
  return least;
}

const lesser = (a, b) => (b.margin < a.margin ? b : a);

/** A pose judged: {margin, end, point, name}, and `pads`: whether pads can be cut in it. data: the bed picture's meta. */
export function judged(pose, { reach, uprights, moves }) {
  const body = toUprights(moves.body, pose, uprights);
  const alone = lesser(toEnds(moves.features, pose, reach), body);
  if (alone.margin < 0) return { ...alone, pads: false };
  const asked = Math.min(moves.wanted, alone.margin);
  const tries = [[Math.min(moves.wanted + moves.room, alone.margin), false], [asked, true], [Math.min(asked, 0), true]];
  const found = moves.ways.map(() => null);
  for (const [least, byHand] of tries) {
    for (const [i, way] of moves.ways.entries()) {
      if (way.by_hand && !byHand) continue;
      found[i] ??= lesser(alone, toEnds(way, pose, reach));
      if (found[i].margin >= least - EQUAL) return { ...found[i], pads: true };
    }
  }
  return { ...alone, pads: false };
}
