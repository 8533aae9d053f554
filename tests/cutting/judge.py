"""An independent judge of clearing paths: a bitmap that knows only the outline, the cutter's radius and the moves.

Every pixel remembers the length of travel at which the cutter first covered it. At a place on the path, a point of the
cutter's rim is engaged if its pixel was first covered within the last FRESH radii of travel; the engaged angle is the
share of the rim's front half that is. Nothing here is shared with the code judged.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numba import njit
from scipy.ndimage import distance_transform_edt
from shapely.geometry import Polygon

FRESH = 0.2
RIM = 720


@dataclass(frozen=True)
class Verdict:
    """Angles (n,) rad at places `every` mm apart; air: share of length that cuts nothing; gouge mm; areas mm2."""

    angles: np.ndarray
    length: float
    air: float
    gouge: float
    left: float
    left_in_reach: float
    left_blob: float
    link_hits: int
    link_length: float
    right_share: float
    blocks_per_mm: float
    shortest: float
    removed: float

    def over(self, limit: float) -> float:
        """Share of the length with an engaged angle over the limit."""
        return float((self.angles > limit).mean())


@njit(cache=True)
def _fill(image, x0, y0, px, edges, value):
    """Write value to the pixels whose middle lies inside the polygon, by rows (even-odd)."""
    rows, cols = image.shape
    hit = np.empty(edges.shape[0])
    for j in range(rows):
        y = y0 + (j + 0.5) * px
        n = 0
        for k in range(edges.shape[0]):
            ya, yb = edges[k, 1], edges[k, 3]
            if (ya > y) != (yb > y):
                hit[n] = edges[k, 0] + (y - ya) / (yb - ya) * (edges[k, 2] - edges[k, 0])
                n += 1
        xs = np.sort(hit[:n])
        for m in range(0, n - 1, 2):
            i0 = max(int(np.ceil((xs[m] - x0) / px - 0.5)), 0)
            i1 = min(int(np.floor((xs[m + 1] - x0) / px - 0.5)), cols - 1)
            for i in range(i0, i1 + 1):
                image[j, i] = value


@njit(cache=True)
def _disc(first, x0, y0, px, x, y, r, ox, oy, had, s):
    """Cover the disc at (x, y) at travel s; pixels also in the disc at (ox, oy) are skipped. Returns new pixels."""
    rows, cols = first.shape
    new = 0
    for j in range(max(int((y - r - y0) / px), 0), min(int((y + r - y0) / px) + 1, rows)):
        yy = y0 + (j + 0.5) * px
        q = r * r - (yy - y) ** 2
        if q <= 0.0:
            continue
        q = np.sqrt(q)
        i0 = max(int(np.ceil((x - q - x0) / px - 0.5)), 0)
        i1 = min(int(np.floor((x + q - x0) / px - 0.5)), cols - 1)
        k0, k1 = i1 + 1, i1
        if had:
            p = r * r - (yy - oy) ** 2
            if p > 0.0:
                p = np.sqrt(p)
                k0 = int(np.ceil((ox - p - x0) / px - 0.5))
                k1 = int(np.floor((ox + p - x0) / px - 0.5))
        i = i0
        while i <= i1:
            if k0 <= i <= k1:
                i = k1 + 1
                continue
            if first[j, i] == np.inf:
                first[j, i] = s
                new += 1
            i += 1
    return new


@njit(cache=True)
def _rim(first, x0, y0, px, x, y, r, heading, s, fresh):
    """Engaged points of the rim: all, and those on the right of travel."""
    total, right = 0, 0
    for k in range(RIM):
        a = heading + np.pi * (k / RIM - 0.5)
        i = int((x + (r - 0.5 * px) * np.cos(a) - x0) / px)
        j = int((y + (r - 0.5 * px) * np.sin(a) - y0) / px)
        if i < 0 or j < 0 or j >= first.shape[0] or i >= first.shape[1]:
            continue
        t = first[j, i]
        if t >= 0.0 and t > s - fresh:
            total += 1
            if np.sin(a - heading) < 0.0:
                right += 1
    return total, right


@njit(cache=True)
def _run(first, x0, y0, px, r, xyh, travel, every, fresh, angles, rights):
    """Cut along places; returns the number of readings and of new pixels."""
    n, new, due = 0, 0, travel[0]
    for k in range(len(xyh)):
        had = k > 0
        o = k - 1 if had else 0
        new += _disc(first, x0, y0, px, xyh[k, 0], xyh[k, 1], r, xyh[o, 0], xyh[o, 1], had, travel[k])
        if travel[k] >= due:
            t, q = _rim(first, x0, y0, px, xyh[k, 0], xyh[k, 1], r, xyh[k, 2], travel[k], fresh)
            angles[n], rights[n] = t * np.pi / RIM, q * np.pi / RIM
            n += 1
            due += every
    return n, new


@njit(cache=True)
def _touches(first, x0, y0, px, r, ax, ay, bx, by):
    """Whether a cutter going straight from a to b meets a pixel never covered."""
    rows, cols = first.shape
    dx, dy = bx - ax, by - ay
    d2 = max(dx * dx + dy * dy, 1e-12)
    for j in range(max(int((min(ay, by) - r - y0) / px), 0), min(int((max(ay, by) + r - y0) / px) + 1, rows)):
        for i in range(
            max(int((min(ax, bx) - r - x0) / px), 0), min(int((max(ax, bx) + r - x0) / px) + 1, cols)
        ):
            if first[j, i] != np.inf:
                continue
            qx, qy = x0 + (i + 0.5) * px - ax, y0 + (j + 0.5) * px - ay
            t = min(max((qx * dx + qy * dy) / d2, 0.0), 1.0)
            if (qx - t * dx) ** 2 + (qy - t * dy) ** 2 < r * r:
                return True
    return False


def _edges(shape: shapely.Geometry) -> np.ndarray:
    rows = []
    for part in shapely.get_parts(shape):
        for ring in (part.exterior, *part.interiors):
            xy = np.asarray(ring.coords)[:, :2]
            rows.append(np.hstack([xy[:-1], xy[1:]]))
    return np.vstack(rows)


def places(kind, start, end, centre, spacing):
    """x, y, heading every `spacing` mm along level moves; kinds 1 line, 2 clockwise arc, 3 counter-clockwise arc."""
    rows = []
    for k, a, b, c in zip(kind, start, end, centre, strict=True):
        if k == 1:
            d = b - a
            n = max(int(np.ceil(np.hypot(*d) / spacing)), 1)
            t = np.arange(0 if not rows else 1, n + 1) / n
            rows.append(np.column_stack([a + t[:, None] * d, np.full(len(t), np.arctan2(d[1], d[0]))]))
            continue
        u, v = a - c, b - c
        a0 = np.arctan2(u[1], u[0])
        sweep = np.arctan2(v[1], v[0]) - a0
        sweep = sweep % (2 * np.pi) if k == 3 else -((-sweep) % (2 * np.pi))
        r0, r1 = np.hypot(*u), np.hypot(*v)
        n = max(int(np.ceil(abs(sweep) * r0 / spacing)), 1)
        t = np.arange(0 if not rows else 1, n + 1) / n
        angle, rad = a0 + t * sweep, r0 + t * (r1 - r0)
        xy = c + rad[:, None] * np.column_stack([np.cos(angle), np.sin(angle)])
        rows.append(np.column_stack([xy, angle + np.sign(sweep) * np.pi / 2]))
    return np.concatenate(rows)


def judge(
    outline: Polygon,
    radius: float,
    passes,
    links,
    free=(),
    ground=None,
    *,
    stock=0.0,
    rounding=0.15,
    px=0.02,
    every=0.1,
) -> Verdict:
    """Cut the passes in order.

    passes: move tables with kind, start, end, centre. links: "clear" or "up" for each. free: places (n, 2) the cutter
    visits beforehand (the entry). ground: shape free of metal beforehand. rounding: radius to which the centre's path may
    round its corners, in cutter radii.
    """
    box = shapely.union_all([outline, *([] if ground is None else [ground])]).bounds
    margin = radius + 0.5
    x0, y0 = box[0] - margin, box[1] - margin
    size = (int((box[3] - box[1] + 2 * margin) / px), int((box[2] - box[0] + 2 * margin) / px))
    first = np.full(size, -2.0, dtype=np.float32)
    _fill(first, x0, y0, px, _edges(outline), np.inf)
    if ground is not None:
        _fill(first, x0, y0, px, _edges(ground), -1.0)
    for x, y in free:
        _disc(first, x0, y0, px, x, y, radius, x, y, False, -1.0)
    angles, rights, hits, hop, s, dots, new = [], [], 0, 0.0, 10.0, [], 0
    here = free[-1] if len(free) else None
    for table, link in zip(passes, links, strict=True):
        xyh = places(table.kind, table.start, table.end, table.centre, 0.5 * px)
        step = np.hypot(*np.diff(xyh[:, :2], axis=0).T)
        travel = s + np.concatenate([[0.0], np.cumsum(step)])
        if here is not None:
            hop += float(np.hypot(*(xyh[0, :2] - here)))
            if link == "clear":
                hits += bool(_touches(first, x0, y0, px, radius - 0.05, *here, *xyh[0, :2]))
        a, b = np.zeros(len(xyh)), np.zeros(len(xyh))
        n, fresh = _run(first, x0, y0, px, radius, xyh, travel, every, FRESH * radius, a, b)
        new += fresh
        angles.append(a[:n])
        rights.append(b[:n])
        s = travel[-1] + 10.0
        here = xyh[-1, :2]
        dots.append(xyh[:, :2])
    return _verdict(
        outline,
        radius,
        (stock, rounding * radius),
        first,
        (x0, y0, px),
        passes,
        angles,
        rights,
        dots,
        hits,
        hop,
        new,
    )


def _verdict(outline, radius, allowance, first, frame, passes, angles, rights, dots, hits, hop, new):
    x0, y0, px = frame
    path = shapely.points(np.concatenate(dots)) if dots else np.array([])
    border, inside = outline.boundary, outline
    shapely.prepare(inside)
    far = (
        np.where(shapely.contains(inside, path), 1, -1) * shapely.distance(border, path)
        if dots
        else np.array([9e9])
    )
    metal = first == np.inf
    reach = np.zeros(first.shape, dtype=np.float32)
    stock, rho = allowance
    core = outline.buffer(-(radius + stock + rho), quad_segs=64).buffer(rho + radius - 0.03, quad_segs=64)
    if not core.is_empty:
        _fill(reach, x0, y0, px, _edges(core), 1.0)
    missed = metal & (reach > 0)
    blob = float(distance_transform_edt(missed).max() * px * 2) if missed.any() else 0.0
    a = np.concatenate(angles) if angles else np.zeros(1)
    b = np.concatenate(rights) if rights else np.zeros(1)
    sizes = np.concatenate([_lengths(t) for t in passes]) if passes else np.zeros(1)
    return Verdict(
        angles=a,
        length=float(sizes.sum()),
        air=float((a < np.radians(2)).mean()),
        gouge=float(radius - far.min()),
        left=float(metal.sum() * px * px),
        left_in_reach=float(missed.sum() * px * px),
        left_blob=blob,
        link_hits=hits,
        link_length=hop,
        right_share=float(b.sum() / max(a.sum(), 1e-9)),
        blocks_per_mm=float(len(sizes) / max(sizes.sum(), 1e-9)),
        shortest=float(sizes.min()),
        removed=float(new * px * px),
    )


def _lengths(table) -> np.ndarray:
    out = []
    for k, a, b, c in zip(table.kind, table.start, table.end, table.centre, strict=True):
        if k == 1:
            out.append(np.hypot(*(b - a)))
            continue
        turn = np.arctan2(*(b - c)[::-1]) - np.arctan2(*(a - c)[::-1])
        turn = turn % (2 * np.pi) if k == 3 else (-turn) % (2 * np.pi)
        out.append(abs(turn) * np.hypot(*(a - c)))
    return np.array(out)


def entry_places(path) -> np.ndarray:
    """Places (n, 2) along the entry of a clearing path, 0.02 mm apart."""
    if path.entry == "helix":
        t = np.arange(0, 2 * np.pi + 0.01, 0.02 / path.entry_radius)
        return path.entry_centre + path.entry_radius * np.column_stack([np.cos(t), np.sin(t)])
    if path.entry == "ramp":
        a, b = path.entry_line
        n = max(int(np.hypot(*(b - a)) / 0.02), 1)
        there = a + np.linspace(0, 1, n + 1)[:, None] * (b - a)
        return np.concatenate([there, there[::-1]])
    return np.empty((0, 2))
