"""An independent reading of paths, for judging them: points along every move, ground swept, heights."""

import math
from types import SimpleNamespace

import numpy as np
import pytest
import shapely
from shapely.geometry import LineString

RAPID, LINE, ARC_CW, ARC_CCW = 0, 1, 2, 3


def points(path, chord=0.001):
    """Every move as its own (k, 3) table of points from its start to its end; arcs as chords within `chord`."""
    here, out = np.asarray(path.start, float), []
    for kind, end, centre in zip(path.kind, path.end, path.centre, strict=True):
        if kind in (RAPID, LINE):
            out.append(np.vstack([here, end]))
        else:
            a, b = here[:2] - centre, end[:2] - centre
            ra, rb = np.hypot(*a), np.hypot(*b)
            assert abs(ra - rb) < 0.002, f"arc radii {ra:.4f} and {rb:.4f} disagree"
            t0, t1 = math.atan2(a[1], a[0]), math.atan2(b[1], b[0])
            sweep = (t1 - t0) % (2 * math.pi) if kind == ARC_CCW else -((t0 - t1) % (2 * math.pi))
            n = max(2, math.ceil(abs(sweep) / (2 * math.acos(max(0.0, 1 - chord / max(ra, chord))))))
            t = np.linspace(0, 1, n + 1)
            r = ra + (rb - ra) * t
            xy = centre + np.column_stack([r * np.cos(t0 + t * sweep), r * np.sin(t0 + t * sweep)])
            out.append(np.column_stack([xy, here[2] + t * (end[2] - here[2])]))
        here = np.asarray(end, float)
    return out


def swept(path, radius, below, span=math.inf):
    """Ground the cutter covers while its tip is at or below height `below`, by at most `span`."""
    parts = set()
    for kind, p in zip(path.kind, points(path), strict=True):
        low = p[(p[:, 2] <= below + 1e-9) & (p[:, 2] >= below - span - 1e-9)]
        if kind != RAPID and len(low) > 1:
            parts.add(LineString(np.round(low[:, :2], 6)))
    # chorded circles are short of true ones by at most radius * (1 - cos(pi / 192)), 0.4 um at 3 mm
    return shapely.union_all([line.buffer(radius, quad_segs=48) for line in parts])


def check_rapids(path, clearance, floor=None, lift=0.3):
    """Rapids stay at or above `clearance`, save straight up; all moves stay at or above `floor`."""
    here = np.asarray(path.start, float)
    for kind, end in zip(path.kind, path.end, strict=True):
        if kind == RAPID:
            straight_up = np.allclose(here[:2], end[:2]) and end[2] >= here[2]
            assert straight_up or min(here[2], end[2]) >= clearance - 1e-9
        here = np.asarray(end, float)
    if floor is not None:
        assert path.end[:, 2].min() >= floor - 1e-9


@pytest.fixture(scope="session")
def judge():
    """The functions above."""
    return SimpleNamespace(points=points, swept=swept, check_rapids=check_rapids)
