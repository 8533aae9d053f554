"""Reading a program: RS-274 text to motions in machine coordinates, as NIST IR 6556 tells it.

Knows nothing of how programs are written here. Plain lines (one motion word, axis words, arc centre, feed)
take a short way through one pattern; every other line goes word by word, and both ways give the same motions.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping

import numpy as np

from sparwright.program.arcs import CLOSED, RADIUS_TOLERANCE
from sparwright.program.execute import execute
from sparwright.program.expressions import LineError
from sparwright.program.figures import summary
from sparwright.program.machine import CHUNK, ORIGINS, ROW, Machine, Place
from sparwright.program.modal import SYSTEMS
from sparwright.program.model import ReadError, Reading
from sparwright.program.words import LONGEST_LINE, g_name, split_line

__all__ = ["MOST_ERRORS", "read_program", "summary"]

MOST_ERRORS = 1000

_NUM = r"([+-]?(?:[0-9]{1,7}(?:\.[0-9]{0,7})?|\.[0-9]{1,7}))"
_PLAIN = re.compile(
    r" *(?:[Nn][0-9]{1,5} *)?(?:[Gg]0?([0-3]) *)?"
    + "".join(rf"(?:[{a.upper()}{a}]{_NUM} *)?" for a in "xyzijf")
    + r"(?:\((?! *[Mm][Ss][Gg])[^()]*\) *)?"
)


def read_program(
    text: str,
    *,
    start: tuple[float, float, float] = (0.0, 0.0, 0.0),
    offsets: Mapping[str, tuple[float, float, float]] | None = None,
    rapid: float | None = None,
    block_delete: bool = False,
) -> Reading:
    """Read a program.

    start: machine position before the first line, mm. offsets: origins of G54 to G59.3 in machine coordinates,
    mm, zero where not given. rapid: speed of rapid motions, mm/min, for the nominal time. block_delete: leave
    out lines that begin with "/". Raises nothing for any text: what is wrong stands in `errors` with its line,
    the motion of that line is not made, and reading goes on (the first MOST_ERRORS are kept). Raises ValueError
    for an offset of an unknown name. At the start: mm, XY plane, absolute, feed a minute, G54, G98, no motion word in force.
    """
    m = Machine(float(start[0]), float(start[1]), float(start[2]))
    for name, origin in (offsets or {}).items():
        m.store_place(_origin_parameter(name), (float(origin[0]), float(origin[1]), float(origin[2])))
    m.refresh_work()
    errors: list[ReadError] = []
    messages: list[tuple[int, str]] = []
    blocks = _read_lines(text, m, errors, messages, block_delete)
    m.store()
    return _reading(m, start, blocks, errors, messages, rapid)


def _origin_parameter(name: str) -> int:
    systems = {g_name(word): number for word, number in SYSTEMS.items()}
    if name.upper() not in systems:
        raise ValueError(f'"{name}" is not a coordinate system; they are {", ".join(systems)}')
    return ORIGINS + 20 * (systems[name.upper()] - 1)


def _read_lines(
    text: str,
    m: Machine,
    errors: list[ReadError],
    messages: list[tuple[int, str]],
    block_delete: bool,
) -> int:
    """Carry out every line to the end of the program; the number of lines that hold words."""
    blocks = 0
    percent = seen = False
    plain = _PLAIN.fullmatch
    for number, line in enumerate(text.replace("\r\n", "\n").replace("\r", "\n").split("\n"), 1):
        m.line = number
        found = plain(line) if len(line) <= LONGEST_LINE else None
        if found is not None and _plain_line(found.groups(), m):
            blocks += 1
            seen = True
            continue
        bare = line.strip(" \t")
        if not bare:
            continue
        try:
            if bare == "%":
                if percent:
                    m.ended = True
                elif seen:
                    raise LineError('a "%" line here, but the program did not begin with one')
                percent = seen = True
            else:
                seen = True
                blocks += _worded_line(line, m, messages, block_delete)
        except LineError as error:
            blocks += 1
            if len(errors) < MOST_ERRORS:
                errors.append(ReadError(number, str(error)))
        if m.ended:
            break
    return blocks


def _worded_line(line: str, m: Machine, messages: list[tuple[int, str]], block_delete: bool) -> int:
    """Carry out one line word by word; 1 where it held words, else 0."""
    block = split_line(line, m.parameter, block_delete)
    if block.message:
        messages.append((m.line, block.message))
    if not block.words:
        return 0
    try:
        execute(block, m)
    finally:
        m.stale = True
    for number, value in block.settings:
        m.set_parameter(number, value)
    return 1


def _plain_line(words: tuple[str | None, ...], m: Machine) -> bool:
    """Carry out a plain line; False, with nothing done, where it must go word by word after all."""
    g, x, y, z, i, j, f = words
    motion = int(g) if g else m.motion // 10
    if (x is None and y is None and z is None) or motion > 3 or m.inverse_time:
        return False
    unit = m.unit
    feed = m.feed if f is None else float(f) * unit
    if feed < 0.0 or (motion and feed == 0.0):
        return False
    if m.incremental:
        ex = m.x if x is None else m.x + float(x) * unit
        ey = m.y if y is None else m.y + float(y) * unit
        ez = m.z if z is None else m.z + float(z) * unit
    else:
        ex = m.x if x is None else float(x) * unit + m.wx
        ey = m.y if y is None else float(y) * unit + m.wy
        ez = m.z if z is None else float(z) * unit + m.wz
    if motion > 1:
        if (i is None and j is None) or (x is None and y is None) or m.plane != 17:
            return False
        cx = m.x if i is None else m.x + float(i) * unit
        cy = m.y if j is None else m.y + float(j) * unit
        radius = math.hypot(m.x - cx, m.y - cy)
        if radius == 0.0 or abs(radius - math.hypot(ex - cx, ey - cy)) > RADIUS_TOLERANCE[unit]:
            return False
        if abs(ex - m.x) < CLOSED and abs(ey - m.y) < CLOSED:
            return False
        m.centres.append((m.stored + len(m.rows), cx, cy, m.z))
    elif i is not None or j is not None:
        return False
    if f is not None:
        m.feed = feed
    if g is not None:
        m.motion = motion * 10
        m.sticky = {}
    if m.stale:
        m.mark()
    rows = m.rows
    rows.append((motion, m.line, ex, ey, ez, feed if motion else math.nan))
    m.x = ex
    m.y = ey
    m.z = ez
    if len(rows) >= CHUNK:
        m.store()
    return True


def _reading(
    m: Machine,
    start: Place,
    blocks: int,
    errors: list[ReadError],
    messages: list[tuple[int, str]],
    rapid: float | None,
) -> Reading:
    rows = np.concatenate(m.chunks) if m.chunks else np.empty((0, ROW))
    end = rows[:, 2:5].copy()
    first = np.asarray(start, dtype=float).reshape(1, 3)
    state = _state(m, len(rows))
    centre = np.full((len(rows), 3), math.nan)
    for part in m.centre_chunks:
        centre[part[:, 0].astype(int)] = part[:, 1:]
    return Reading(
        blocks=blocks,
        kind=rows[:, 0].astype(np.int8),
        start=np.concatenate([first, end[:-1]]) if len(rows) else end.copy(),
        end=end,
        centre=centre,
        plane=state[:, 3].astype(np.int8),
        feed=rows[:, 5].copy(),
        rpm=state[:, 0].copy(),
        spindle=state[:, 1].astype(np.int8),
        tool=state[:, 2].astype(np.int32),
        line=rows[:, 1].astype(np.int64),
        cycle=state[:, 4].astype(np.int8),
        work=state[:, 5:8].copy(),
        dwell_seconds=m.dwell,
        end_position=m.position,
        ended=m.ended,
        errors=tuple(errors),
        stops=tuple(m.stops),
        rapid=rapid,
        messages=tuple(messages),
    )


def _state(m: Machine, count: int) -> np.ndarray:
    """The slower state of every motion, shape (count, 8), spread from the marks where it changed."""
    if not m.marks:
        return np.empty((count, 8))
    at = np.array([index for index, _ in m.marks] + [count])
    return np.repeat(np.array([state for _, state in m.marks]), np.diff(at), axis=0)
