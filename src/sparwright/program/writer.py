"""Write cuts as RS-274 programs, within what simple serial-fed controllers take.

Words used: G0 G1 G2 G3 G4 G17 G21 G40 G49 G54 G80 G90 G94, M0 M3 M5 M6 M30, F I J P S T X Y Z, comments in round brackets
(NIST IR 6556). The same cuts give the same bytes; nothing is dated.
"""

from __future__ import annotations

import hashlib
import math
import unicodedata
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from itertools import groupby

import numpy as np

from sparwright.cutting.model import ARC_CCW, ARC_CW, LINE, RAPID, Cut, Path, SideCuts
from sparwright.job.models import Cutter, Job
from sparwright.placing.model import Pose
from sparwright.program.model import Program

OPENING = "G21 G90 G94 G17 G40 G49 G80 G54"
SPIN_UP_SECONDS = 4
FLAT = 0.0005
"""An arc that leaves its chord by less than this, mm, is written as a straight move."""
CHORD = 0.005
"""Chord error of arcs for controllers without arcs, mm."""
Point = tuple[float, float, float]


@dataclass
class _Text:
    """Lines of a program being written, with what the controller already knows."""

    decimals: int
    arcs: bool
    lines: list[str] = field(default_factory=list)
    mode: int = -1
    at: list[float | None] = field(default_factory=lambda: [None, None, None])
    feed: str = ""
    low: list[float] = field(default_factory=lambda: [math.inf] * 3)
    high: list[float] = field(default_factory=lambda: [-math.inf] * 3)

    def say(self, line: str) -> None:
        self.lines.append(line)

    def comment(self, text: str) -> None:
        self.lines.append(f"({plain(text)})")

    def number(self, value: float) -> str:
        text = f"{value:.{self.decimals}f}".rstrip("0").rstrip(".")
        return "0" if text in ("-0", "") else text

    def rounded(self, value: float) -> float:
        return round(value, self.decimals) + 0.0

    def _widen(self, point: Sequence[float]) -> None:
        for i, v in enumerate(point):
            self.low[i] = min(self.low[i], v)
            self.high[i] = max(self.high[i], v)

    def _words(self, end: Sequence[float], *, always_xy: bool = False) -> list[str]:
        words = []
        for i, letter in enumerate("XYZ"):
            if self.at[i] is None or abs(end[i] - (self.at[i] or 0.0)) > 1e-9 or (always_xy and i < 2):
                words.append(letter + self.number(end[i]))
                self.at[i] = end[i]
        return words

    def _emit(self, mode: int, words: list[str], feed: float | None) -> None:
        if not words:
            return
        head = [f"G{mode}"] if mode != self.mode else []
        self.mode = mode
        if feed is not None:
            text = f"{feed:.0f}" if feed >= 10 else f"{max(feed, 0.1):.1f}"
            if text != self.feed:
                words.append("F" + text)
                self.feed = text
        self.lines.append(" ".join(head + words))

    def rapid_z(self, z: float) -> None:
        """A rapid in Z alone, also where X and Y are not known yet."""
        z = self.rounded(z)
        if self.at[2] is None or abs(z - self.at[2]) > 1e-9:
            self.at[2] = z
            self._emit(0, [f"Z{self.number(z)}"], None)

    def rapid(self, end: Sequence[float]) -> None:
        """A rapid; X Y and Z never move together: up first, down last."""
        end = [self.rounded(v) for v in end]
        z = self.at[2]
        if z is None or end[2] > z:
            self.rapid_z(end[2])
        here = [end[0], end[1], self.at[2] if self.at[2] is not None else end[2]]
        self._emit(0, self._words(here), None)
        self.rapid_z(end[2])
        self._widen(end)

    def line(self, end: Sequence[float], feed: float) -> None:
        """A straight feed move."""
        end = [self.rounded(v) for v in end]
        self._emit(1, self._words(end), feed)
        self._widen(end)

    def arc(self, end: Sequence[float], centre: Sequence[float], feed: float, *, cw: bool) -> None:
        """An arc about `centre` seen from above; written in parts of at most half a turn."""
        start = [float(v) if v is not None else 0.0 for v in self.at]
        for part in _parts(start, end, centre, cw=cw, chord=None if self.arcs else CHORD):
            self._arc_part(part, centre, feed, cw=cw)

    def _arc_part(self, end: Sequence[float], centre: Sequence[float], feed: float, *, cw: bool) -> None:
        start = [float(v) if v is not None else 0.0 for v in self.at]
        end = [self.rounded(v) for v in end]
        dx, dy = end[0] - start[0], end[1] - start[1]
        chord = math.hypot(dx, dy)
        radius = math.hypot(start[0] - centre[0], start[1] - centre[1])
        sagitta = radius - math.sqrt(max(radius**2 - chord**2 / 4, 0.0))
        if not self.arcs or chord < 1e-9 or (sagitta < FLAT and chord < radius):
            self.line(end, feed)
            return
        # The centre on the chord's perpendicular bisector: equal radii at both rounded ends.
        mx, my = (start[0] + end[0]) / 2, (start[1] + end[1]) / 2
        ux, uy = dx / chord, dy / chord
        along = (centre[0] - mx) * ux + (centre[1] - my) * uy
        cx, cy = centre[0] - along * ux, centre[1] - along * uy
        for corner in _quadrants(start, end, (cx, cy), cw=cw):
            self._widen((*corner, end[2]))
        words = self._words(end, always_xy=True)
        words += [f"I{self.number(cx - start[0])}", f"J{self.number(cy - start[1])}"]
        self._emit(2 if cw else 3, words, feed)
        self._widen(end)


def plain(text: str) -> str:
    """Text that may stand in a comment: ASCII, no round brackets."""
    swapped = (
        text.replace("(", "[").replace(")", "]").replace("×", "x").replace("Ø", "D").replace("°", " deg")
    )
    return unicodedata.normalize("NFKD", swapped).encode("ascii", "ignore").decode("ascii")


def _sweep(start: Sequence[float], end: Sequence[float], centre: Sequence[float], *, cw: bool) -> float:
    a = math.atan2(start[1] - centre[1], start[0] - centre[0])
    b = math.atan2(end[1] - centre[1], end[0] - centre[0])
    turn = (a - b if cw else b - a) % (2 * math.pi)
    return turn if turn > 1e-9 else 2 * math.pi


def _parts(
    start: Sequence[float], end: Sequence[float], centre: Sequence[float], *, cw: bool, chord: float | None
) -> Iterator[Point]:
    """Ends of the parts an arc is written in."""
    turn = _sweep(start, end, centre, cw=cw)
    radius = math.hypot(end[0] - centre[0], end[1] - centre[1])
    if chord is None:
        count = max(1, math.ceil(turn / math.pi - 1e-4))
    else:
        count = max(1, math.ceil(turn / (2 * math.acos(max(0.0, 1 - chord / radius)))))
    a = math.atan2(start[1] - centre[1], start[0] - centre[0])
    for i in range(1, count):
        t = a + (-turn if cw else turn) * i / count
        yield (
            centre[0] + radius * math.cos(t),
            centre[1] + radius * math.sin(t),
            start[2] + (end[2] - start[2]) * i / count,
        )
    yield (end[0], end[1], end[2])


def _quadrants(
    start: Sequence[float], end: Sequence[float], centre: Sequence[float], *, cw: bool
) -> Iterator[tuple[float, float]]:
    """Points of an arc where it runs along an axis."""
    turn = _sweep(start, end, centre, cw=cw)
    a = math.atan2(start[1] - centre[1], start[0] - centre[0])
    radius = math.hypot(start[0] - centre[0], start[1] - centre[1])
    for k in range(4):
        t = k * math.pi / 2
        if ((a - t if cw else t - a) % (2 * math.pi)) < turn:
            yield (centre[0] + radius * math.cos(t), centre[1] + radius * math.sin(t))


def _write_path(out: _Text, path: Path, pose: Pose) -> None:
    ends = pose.to_bed(path.end[:, :2])
    centres = pose.to_bed(np.nan_to_num(path.centre))
    first = pose.to_bed(path.start[None, :2])[0]
    out.rapid((float(first[0]), float(first[1]), float(path.start[2])))
    rows = zip(
        path.kind.tolist(),
        ends.tolist(),
        path.end[:, 2].tolist(),
        centres.tolist(),
        path.feed.tolist(),
        strict=True,
    )
    for kind, (x, y), z, centre, feed in rows:
        if kind == RAPID:
            out.rapid((x, y, z))
        elif kind == LINE:
            out.line((x, y, z), feed)
        else:
            if kind not in (ARC_CW, ARC_CCW):
                raise ValueError(f"no such kind of move: {kind}")
            out.arc((x, y, z), centre, feed, cw=kind == ARC_CW)


def _header(
    cuts: SideCuts,
    cutters: Sequence[Cutter],
    job: Job,
    station: int,
    zero: str,
    minutes: float,
    place: tuple[int, int],
) -> list[str]:
    lines = [
        job.title,
        f"side {cuts.side}, station {station}, program {place[0]} of {place[1]}",
        *(
            f"cutter {c.number}: {c.name}, diameter {c.diameter:g} mm, stick-out {c.stick_out:g} mm"
            for c in cutters
        ),
        f"zero: X0 Y0 left front corner of the reach, Z0 on {zero}",
        f"about {minutes:.1f} minutes",
        f"job {job.digest[:12]}",
        "millimetres; prove this program before cutting",
    ]
    return [f"({plain(line)})" for line in lines]


def _program(
    cuts: SideCuts,
    groups: Sequence[tuple[int, list[Cut]]],
    pose: Pose,
    job: Job,
    station: int,
    place: tuple[int, int],
) -> Program:
    control = job.bed.controller
    safe = job.file.cutting.safe_height
    cutters = [job.cutter(n) for n, _ in groups]
    minutes = sum(c.seconds for _, made in groups for c in made) / 60
    out = _Text(control.decimals, control.arcs)
    out.say(OPENING)
    for i, (number, made) in enumerate(groups):
        cutter = job.cutter(number)
        if i == 0:
            out.rapid_z(safe)
        if control.tool_change == "M6":
            out.say(f"T{number} M6")
        else:
            if i > 0:
                out.comment(f"put in cutter {number}: {cutter.name}; set Z0 anew")
                out.say("M0")
            out.say(f"T{number}")
        out.say(f"S{made[0].rpm:.0f} M3")
        out.say(f"G4 P{SPIN_UP_SECONDS}")
        speed = made[0].rpm
        for cut in made:
            out.comment(f"{cut.name}: {cut.kind}")
            if abs(cut.rpm - speed) > 0.5:
                speed = cut.rpm
                out.say(f"S{speed:.0f}")
            for piece in cut.pieces:
                out.comment(piece.feature)
                _write_path(out, piece.path, pose)
        out.rapid_z(safe)
        out.say("M5")
    out.say("M30")
    low, high = (tuple(float(v) for v in side) for side in (out.low, out.high))
    extents = ", ".join(f"{letter} {a:.1f} to {b:.1f}" for letter, a, b in zip("XYZ", low, high, strict=True))
    zero = "the pads' top" if cuts.side.startswith("pads") else "the face"
    head = _header(cuts, cutters, job, station, zero, minutes, place)
    head.insert(-3, f"({plain(extents)})")
    text = "\n".join([*head, *out.lines]) + "\n"
    suffix = f"-station{station}" if station > 1 else ""
    tools = f"-t{groups[0][0]}" if len(groups) == 1 else ""
    name = f"{cuts.side}{suffix}-{place[0]:02d}{tools}.nc"
    return Program(
        name=name,
        side=cuts.side,
        cutters=tuple(n for n, _ in groups),
        text=text,
        digest=hashlib.sha256(text.encode("ascii")).hexdigest(),
        minutes=minutes,
        extents=((low[0], low[1], low[2]), (high[0], high[1], high[2])),
    )


def write_programs(cuts: SideCuts, pose: Pose, job: Job, *, station: int = 1) -> tuple[Program, ...]:
    """The programs of one side: one a run of the same cutter, or one in all where the controller changes cutters.

    Cuts are in (x, s, n) of the face; the programs in bed X Y (`pose`) with Z = n. Raises ValueError for a move of an
    unknown kind.
    """
    groups = [
        (n, list(made)) for n, made in groupby((c for c in cuts.cuts if c.pieces), key=lambda c: c.cutter)
    ]
    if not groups:
        return ()
    if job.bed.controller.tool_change == "one file a cutter":
        return tuple(
            _program(cuts, [g], pose, job, station, (i, len(groups))) for i, g in enumerate(groups, 1)
        )
    return (_program(cuts, groups, pose, job, station, (1, 1)),)
