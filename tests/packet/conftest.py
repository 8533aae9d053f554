"""A short piece of the bridge beam and the folder of its exports, made once."""

import math
from dataclasses import replace

import pytest

from sparwright.packet import exports


@pytest.fixture(scope="session")
def folder(tmp_path_factory, part):
    path = tmp_path_factory.mktemp("shapes")
    exports.write_all(part, path)
    return path


@pytest.fixture(scope="session")
def part(bridge_member):
    """A short piece of the bridge beam: the same tube with its first pockets, holes and the notch, and a window."""
    length = 300.0
    pockets = [p for p in bridge_member.pockets if p.outline.bounds[2] < 230]
    window = replace(pockets[-1], depth=4.0, skin=0.0)
    return replace(
        bridge_member,
        length=length,
        pockets=(*pockets[:-1], window),
        holes=tuple(h for h in bridge_member.holes if h.at[0] < 230),
    )


@pytest.fixture(scope="session")
def volume_without_breaks(part):
    """Volume of the piece, edge breaks left out, by sums of exact areas.

    Arcs are true arcs, so corners take (tan(phi/2) - phi/2) r^2 each.
    """
    outside = 50 * 100 - (4 - math.pi) * 4**2 - 42 * 92
    side = 44 - 5 * math.sqrt(3)
    tips = 3 * (math.tan(math.pi / 3) - math.pi / 3) * 2.1**2
    triangle = side**2 * math.sqrt(3) / 4 - tips
    taken = sum(p.depth for p in part.pockets) * triangle
    taken += sum(math.pi / 4 * h.diameter**2 * 4 for h in part.holes)
    r = part.notches[0].corner_radius
    taken += 4 * (14 * 8 - 2 * (1 - math.pi / 4) * r**2)
    return outside * 300 - taken
