"""What a hole for a metric coarse thread measures; the figures and their sources are in threads.toml."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import files


@dataclass(frozen=True)
class Thread:
    """A metric coarse thread, mm. clearance: hole by series of ISO 273 (fine, medium, coarse)."""

    name: str
    diameter: float
    pitch: float
    clearance: dict[str, float]
    head_diameter: float
    head_height: float
    counterbore: float

    @property
    def tap_drill(self) -> float:
        """Diameter less pitch, mm, about 77 % of the full thread's height (ISO 2306 rule)."""
        return self.diameter - self.pitch

    @property
    def counterbore_depth(self) -> float:
        """Head height and an allowance of 0.4 mm up to M6, 0.6 mm above (DIN 974-1, from memory)."""
        return self.head_height + (0.4 if self.diameter <= 6 else 0.6)


@lru_cache(maxsize=1)
def _table() -> dict[str, Thread]:
    rows = tomllib.loads(files("sparwright.stock").joinpath("threads.toml").read_text(encoding="utf-8"))
    return {
        name: Thread(
            name,
            row["diameter"],
            row["pitch"],
            row["clearance"],
            row["head"]["diameter"],
            row["head"]["height"],
            row["counterbore"],
        )
        for name, row in rows.items()
    }


def thread(name: str) -> Thread:
    """The thread of that nominal name, "M2" to "M12"; KeyError for any other."""
    return _table()[name]


def thread_names() -> tuple[str, ...]:
    """Names of the threads known, smallest first."""
    return tuple(_table())
