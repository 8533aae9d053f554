"""Reads the path of a section out of an SVG file, and nothing else: no link is followed, no entity replaced.

SVG 1.1 (W3C), chapters on coordinate systems and on paths.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from xml.parsers import expat

from sparwright.stock.rings import OutlineError

LARGEST_FILE = 5_000_000  # bytes
NOT_DRAWN = ("defs", "symbol", "clipPath", "mask", "marker", "pattern")
# mm a unit of a document's width; px after CSS, 96 an inch.
UNITS = {"mm": 1.0, "cm": 10.0, "in": 25.4, "pt": 25.4 / 72, "pc": 25.4 / 6, "px": 25.4 / 96}


@dataclass(frozen=True)
class SvgPath:
    """A path of a file: its text, the transforms of it and of all round it (outermost first), its id and its line."""

    d: str
    transforms: tuple[str, ...]
    id: str
    line: int


@dataclass(frozen=True)
class SvgFile:
    """The paths of a file, and mm a user unit where width and viewBox say, else None."""

    paths: tuple[SvgPath, ...]
    scale: float | None


def read_svg(path: Path) -> SvgFile:
    """All paths of an SVG file that are drawn; those in an svg element inside it are left out.

    Raises OutlineError for a file that cannot be read, is no SVG, or declares entities.
    """
    name = path.name
    try:
        if path.stat().st_size > LARGEST_FILE:
            raise OutlineError(
                f"{name} has {path.stat().st_size / 1e6:.1f} MB; at most {LARGEST_FILE / 1e6:g} MB are read; "
                "save the section alone",
                "file",
            )
        data = path.read_bytes()
    except OSError as fault:
        raise OutlineError(
            f"{path} cannot be read: {fault.strerror}; file is taken from the job file's folder", "file"
        ) from None
    collector = _Collector(name)
    try:
        collector.parser.Parse(data, True)
    except expat.ExpatError as fault:
        raise OutlineError(
            f"{name}, line {fault.lineno}: this is not well-formed XML ({expat.ErrorString(fault.code)}); "
            "save the drawing as plain SVG again",
            "file",
        ) from None
    return SvgFile(tuple(collector.paths), collector.scale)


class _Collector:
    """Walks the elements; keeps the transforms that are open."""

    def __init__(self, name: str) -> None:
        self.name = name
        self.paths: list[SvgPath] = []
        self.scale: float | None = None
        self.open: list[str] = []
        self.hidden = 0
        self.parser = expat.ParserCreate(namespace_separator=" ")
        self.parser.StartElementHandler = self._start
        self.parser.EndElementHandler = self._end
        self.parser.EntityDeclHandler = self._entity

    def _entity(self, *_: Any) -> None:
        raise OutlineError(
            f"{self.name}, line {self.parser.CurrentLineNumber}: the file declares entities, which are not replaced here; "
            "save the drawing as plain SVG",
            "file",
        )

    def _start(self, tag: str, attributes: dict[str, str]) -> None:
        local = tag.rpartition(" ")[2]
        if not self.open:
            if local != "svg":
                raise OutlineError(
                    f"{self.name} is no SVG file: its first element is {local}; save the drawing as SVG",
                    "file",
                )
            self.scale = _scale(attributes)
        inner = bool(self.open) and local == "svg"
        if "transform" in attributes.get("style", "").replace("text-transform", ""):
            raise OutlineError(
                f"{self.name}, line {self.parser.CurrentLineNumber}: a transform in a style is not followed; "
                "save the drawing as plain SVG",
                "file",
            )
        self.open.append(attributes.get("transform", ""))
        if self.hidden or inner or local in NOT_DRAWN:
            self.hidden += 1
        elif local == "path":
            transforms = tuple(t for t in self.open if t)
            line = self.parser.CurrentLineNumber
            self.paths.append(SvgPath(attributes.get("d", ""), transforms, attributes.get("id", ""), line))

    def _end(self, _: str) -> None:
        self.open.pop()
        self.hidden = max(self.hidden - 1, 0)


def _scale(root: dict[str, str]) -> float | None:
    """mm a user unit, from width over the viewBox's width; None where the width has no unit or is missing."""
    width = re.fullmatch(r"\s*([\d.]+(?:[eE][-+]?\d+)?)\s*(mm|cm|in|pt|pc|px)\s*", root.get("width", ""))
    if width is None:
        return None
    unit = UNITS[width[2]]
    box = re.split(r"[\s,]+", root.get("viewBox", "").strip())
    try:
        across = float(box[2])
        return float(width[1]) * unit / across if across > 0 else None
    except (IndexError, ValueError):
        return UNITS["px"]
