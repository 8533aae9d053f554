"""The pictures of the page: for each a line in PICTURES, a module here and one of the same name in static/pictures.

See docs/page.md.
"""

from __future__ import annotations

import gzip
import importlib
import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Literal

import numpy as np

from sparwright.packet.figures import METRIC, Display

Needs = Literal["member", "plan", "runs"]
_TYPES = {"f": ("float32", "<f4"), "u": ("uint32", "<u4"), "b": ("uint8", "|u1")}


def told(value: Any, show: Display) -> Any:
    """A piece of `meta` as it is shown: functions of the display called, at any depth."""
    if callable(value):
        return value(show)
    if isinstance(value, dict):
        return {key: told(part, show) for key, part in value.items()}
    if isinstance(value, list | tuple):
        return [told(part, show) for part in value]
    return value


@dataclass(frozen=True)
class PictureData:
    """What a picture is drawn from: `meta` becomes JSON, `arrays` go as they are (floats as Float32, whole numbers as
    Uint32, booleans and bytes as Uint8). What in `meta` is worded in units is a function of the display. Where there
    is nothing to draw, `meta["nothing"]` says so in words."""

    meta: dict[str, Any] = field(default_factory=dict)
    arrays: dict[str, np.ndarray] = field(default_factory=dict)

    def packed(self, show: Display = METRIC) -> bytes:
        """One body: length of the head as four bytes, low first; the head as JSON, filled up with blanks so that what
        follows lies on a multiple of four; then the arrays one behind the other, each so filled up.

        Head: {"meta": ..., "arrays": [{"name", "type", "shape", "at"}]}, `at` in bytes from the end of the head.
        """
        listed, bodies, at = [], [], 0
        for name, array in self.arrays.items():
            kind = "f" if array.dtype.kind == "f" else "b" if array.dtype in (np.uint8, np.bool_) else "u"
            word, stored = _TYPES[kind]
            body = np.ascontiguousarray(array, dtype=stored).tobytes()
            listed.append({"name": name, "type": word, "shape": list(array.shape), "at": at})
            body += b"\0" * (-len(body) % 4)
            bodies.append(body)
            at += len(body)
        head = json.dumps(
            {"meta": told(self.meta, show), "arrays": listed}, allow_nan=False, ensure_ascii=True
        ).encode()
        head += b" " * (-len(head) % 4)
        return len(head).to_bytes(4, "little") + head + b"".join(bodies)

    def squeezed(self, show: Display = METRIC) -> bytes:
        """The body compressed by gzip, at the level that takes least time: arrays of surfaces shrink to a seventh."""
        return gzip.compress(self.packed(show), 1, mtime=0)

    def squeezed_for(self, shows: Mapping[str, Display]) -> dict[str, bytes]:
        """The body for each of some displays, by their keys; those in which it is worded alike share one."""
        bodies: list[tuple[dict[str, Any], bytes]] = []
        out = {}
        for key, show in shows.items():
            meta = told(self.meta, show)
            body = next((made for known, made in bodies if known == meta), None) or self.squeezed(show)
            bodies.append((meta, body))
            out[key] = body
        return out


@dataclass(frozen=True)
class Picture:
    """One picture of a band.

    name: of its module here and of its drawing module. band: question 1 to 6. title: a few words over it. needs: "member"
    is given (job, member), drawn as soon as the job is read; "plan" is given the whole finished plan, and "runs" its
    programs as they were cut in simulation, both in the plan's own process. slow: it is given besides what to tell how
    much of how much is done.
    """

    name: str
    band: int
    title: str
    needs: Needs
    slow: bool = False

    def build(self, *source: Any) -> PictureData:
        """The data, by its module's `build`, from what it needs. The module is loaded only now: some load a compiler."""
        made: PictureData = importlib.import_module(f"{__name__}.{self.name}").build(*source)
        return made


PICTURES = (
    Picture("kept", 1, "What is kept, with skins and with windows", "member"),
    Picture("member", 1, "The member, skins by thickness", "member"),
    Picture("section", 1, "The section and its walls", "member"),
    Picture("served", 1, "The machine served, and what gives most", "plan"),
    Picture("sweep", 1, "Many candidates at once", "member"),
    Picture("bed", 2, "The bed from above", "member"),
    Picture("error", 3, "Where features may come out", "member"),
    Picture("paths", 4, "Paths by kind of cut", "runs"),
    Picture("playback", 5, "The programs, cut move by move", "runs", slow=True),
    Picture("thickness", 5, "Metal left on each face", "runs"),
)
"""Every picture, in the order of the bands and within them."""


def picture(name: str) -> Picture:
    """The picture of that name; KeyError where there is none."""
    return {p.name: p for p in PICTURES}[name]
