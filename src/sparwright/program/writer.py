"""Write cuts as RS-274 programs, within what simple serial-fed controllers take.

Words used: G0 G1 G2 G3 G4 G17 G21 G40 G49 G54 G80 G90 G94, M0 M3 M5 M30, F I J P S T X Y Z and comments in round
brackets (NIST IR 6556); G81 G83 G98 with Q and R only for controllers with canned cycles, M6 and G43 with H only for
those that change cutters by M6. The same cuts give the same bytes; nothing is dated.
"""

from __future__ import annotations

import hashlib
import re
import textwrap
import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby

import numpy as np

from sparwright.cutting.model import Cut, SideCuts
from sparwright.job.models import Job
from sparwright.placing.model import Pose, Setup
from sparwright.program.drilling import drill, hole_of
from sparwright.program.model import Program
from sparwright.program.moves import moves_of
from sparwright.program.pen import Pen

OPENING = "G21 G90 G94 G17 G40 G49 G80 G54"
SPIN_UP_SECONDS = 4  # for a small spindle to reach its speed; common practice, no source
SPEED_CHANGE_SECONDS = 2
COMMENT_WIDTH = 72  # short enough for the line memory of small controllers; common practice, no source

# Characters some serial-fed controllers act on wherever they meet them, and what stands for others in ASCII.
_SWAPS = str.maketrans(
    {"(": "[", ")": "]", "×": "x", "Ø": "D", "°": " deg", "²": "2", "³": "3", "%": " percent"}
)
_UNSAFE = re.compile(r"[^A-Za-z0-9 .,:;+\-=/#'_*\[\]<>@&\"|]")


@dataclass(frozen=True)
class _Group:
    """A run of cuts with one cutter."""

    cutter: int
    cuts: tuple[Cut, ...]


@dataclass(frozen=True)
class _Side:
    """What all programs of one side share."""

    name: str
    pose: Pose
    job: Job
    station: int
    setup: Setup | None

    @property
    def zero(self) -> str:
        """Where the work zero lies, in words."""
        if self.setup is not None:
            return self.setup.zero
        top = "the pads' top" if self.name.startswith("pads") else "the face being cut"
        return f"X0 Y0 left front corner of the reach, Z0 on {top}"


def plain(text: str) -> str:
    """Text that may stand in a comment: ASCII, no round brackets, nothing a controller would act on."""
    swapped = unicodedata.normalize("NFKD", text.translate(_SWAPS)).encode("ascii", "ignore").decode("ascii")
    return " ".join(_UNSAFE.sub(" ", swapped.replace(";", ",")).split())


def write_programs(
    cuts: SideCuts, pose: Pose, job: Job, *, station: int = 1, setup: Setup | None = None
) -> tuple[Program, ...]:
    """The programs of one side: one a run of the same cutter, or one in all where the controller changes cutters.

    Cuts are in (x, s, n) of the face; the programs in bed X Y (`pose`) with Z = n. `setup` puts the side's order
    before the names and its zero point into the header. Raises ValueError for a path that cannot be written.
    """
    groups = [
        _Group(number, tuple(made))
        for number, made in groupby((c for c in cuts.cuts if c.pieces), key=lambda c: c.cutter)
    ]
    if not groups:
        return ()
    apart = job.bed.controller.tool_change == "one file a cutter"
    runs = [(g,) for g in groups] if apart else [tuple(groups)]
    side = _Side(cuts.side, pose, job, station, setup)
    return tuple(_program(side, run, place, len(runs)) for place, run in enumerate(runs, 1))


def _program(side: _Side, run: Sequence[_Group], place: int, of: int) -> Program:
    pen = Pen(side.job.bed.controller.decimals)
    pen.say(OPENING)
    safe = _safe_height(side.job, run)
    for i, group in enumerate(run):
        _start_cutter(pen, side.job, group, safe, first=i == 0)
        _write_cuts(pen, side, group)
        pen.lift(safe)
        pen.say("M5")
    pen.say("M30")
    low, high = pen.low.tolist(), pen.high.tolist()
    minutes = sum(cut.seconds for group in run for cut in group.cuts) / 60
    head = _header(side, run, (place, of), (low, high), minutes)
    text = "\n".join([*head, *pen.lines]) + "\n"
    return Program(
        name=_name(side, run, place),
        side=side.name,
        cutters=tuple(group.cutter for group in run),
        text=text,
        digest=hashlib.sha256(text.encode("ascii")).hexdigest(),
        minutes=minutes,
        extents=((low[0], low[1], low[2]), (high[0], high[1], high[2])),
    )


def _safe_height(job: Job, run: Sequence[_Group]) -> float:
    """The job's safe height, or the highest place of any path where that is higher."""
    heights = [
        max(float(piece.path.start[2]), float(piece.path.end[:, 2].max(initial=-np.inf)))
        for group in run
        for cut in group.cuts
        for piece in cut.pieces
    ]
    return max(job.file.cutting.safe_height, *heights)


def _start_cutter(pen: Pen, job: Job, group: _Group, safe: float, *, first: bool) -> None:
    """Up, the cutter in, the spindle on and given time, before anything moves across."""
    change = job.bed.controller.tool_change
    if change == "M6":
        pen.say(f"T{group.cutter} M6", f"G43 H{group.cutter}")
        pen.forget()
    elif not first:
        pen.say(f"(MSG, put in cutter {group.cutter} {plain(job.cutter(group.cutter).name)} and set Z0 anew)")
        pen.say("M0")
        pen.forget()
    pen.lift(safe)
    if change != "M6":
        pen.say(f"T{group.cutter}")
    pen.say(f"S{group.cuts[0].rpm:.0f} M3", f"G4 P{SPIN_UP_SECONDS}")


def _write_cuts(pen: Pen, side: _Side, group: _Group) -> None:
    control = side.job.bed.controller
    speed = group.cuts[0].rpm
    for cut in group.cuts:
        pen.say(f"({plain(cut.name if cut.kind in cut.name else f'{cut.name}: {cut.kind}')})")
        if round(cut.rpm) != round(speed):
            speed = cut.rpm
            pen.say(f"S{speed:.0f} M3", f"G4 P{SPEED_CHANGE_SECONDS}")
        notes = [f"({plain(piece.feature)})" for piece in cut.pieces]
        if control.canned_cycles and cut.kind == "drill":
            holes = [hole_of(piece) for piece in cut.pieces]
            known = [hole for hole in holes if hole is not None]
            if len(known) == len(holes):
                drill(pen, cut.pieces, known, side.pose, notes)
                continue
        pen.write(moves_of(cut.pieces, side.pose, pen.at, control.decimals, control.arcs), notes)


def _header(
    side: _Side,
    run: Sequence[_Group],
    place: tuple[int, int],
    extents: tuple[list[float], list[float]],
    minutes: float,
) -> list[str]:
    """The plain-language head of a program, as comment lines."""
    job = side.job
    cutters = [job.cutter(number) for number in dict.fromkeys(group.cutter for group in run)]
    reach = ", ".join(f"{letter} {a:.1f} to {b:.1f}" for letter, a, b in zip("XYZ", *extents, strict=True))
    said = [
        job.title,
        f"side {side.name}, station {side.station}, program {place[0]} of {place[1]}",
        *(
            f"cutter {c.number}: {c.name}, diameter {c.diameter:g} mm, stick-out {c.stick_out:g} mm"
            for c in cutters
        ),
        f"zero: {side.zero}",
        f"extents: {reach} mm",
        f"about {minutes:.1f} minutes",
        f"job {job.digest[:12]}",
        "millimetres; prove this program before cutting",
    ]
    wrapped = [part for line in said for part in textwrap.wrap(plain(line), COMMENT_WIDTH)]
    return [f"({line})" for line in wrapped]


def _name(side: _Side, run: Sequence[_Group], place: int) -> str:
    """File name: order of the side where known, side, station past the first, number in order, cutter where one."""
    parts = [str(side.setup.order)] if side.setup is not None else []
    parts.append(re.sub(r"[^a-z0-9]+", "-", plain(side.name).lower()).strip("-") or "side")
    if side.station > 1:
        parts.append(f"station{side.station}")
    parts.append(f"{place:02d}")
    if len(run) == 1:
        parts.append(f"t{run[0].cutter}")
    return "-".join(parts) + ".nc"
