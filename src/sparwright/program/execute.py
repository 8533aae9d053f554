"""One line of a program carried out, in the order of NIST IR 6556, table 8."""

from __future__ import annotations

import math

from sparwright.program.arcs import arc_length, arc_of
from sparwright.program.cycles import run_cycle
from sparwright.program.expressions import LineError, as_integer, number_text
from sparwright.program.limits import INCH, PROBE_LEAST
from sparwright.program.machine import AXIS_OFFSETS, HOME, ORIGINS, PROBED, SECOND_HOME, Machine
from sparwright.program.modal import CYCLES, group_words, motion_of, refuse_unused
from sparwright.program.tape import Place
from sparwright.program.words import Block, g_name

PROBING = 38  # stands for a canned cycle's number at a probing move


def execute(block: Block, m: Machine) -> None:
    """Carry out the words of one line on `m`.

    Raises LineError. Words that cannot stand together are refused before anything is done; a motion that
    cannot be made is refused after the words that come before it in the order of execution.
    """
    g, mw = group_words(block)
    motion = motion_of(block, g, m.motion)
    refuse_unused(block, g, motion)
    _check_values(block, g, motion, m)
    _speeds_and_tools(block, g, mw, m)
    _settings(block, g, m)
    _once(block, g, m)
    _motion(block, g, motion, m)
    _stop(mw, m)


def _check_values(block: Block, g: dict[str, int], motion: int | None, m: Machine) -> None:
    """Refuse values and combinations that can be judged before anything is done."""
    values = block.values
    for letter in ("f", "s", "t", "h"):
        if values.get(letter, 0.0) < 0:
            raise LineError(f"{letter.upper()}{number_text(values[letter])} cannot be negative")
    if g.get("tool length") == 430:
        if "h" not in values:
            raise LineError("G43 needs H, the number of the tool length")
        as_integer(values["h"], "H")
    if g.get("one line only") == 40:
        if "p" not in values:
            raise LineError("G4 needs P, the seconds to wait")
        if values["p"] < 0:
            raise LineError(f"P{number_text(values['p'])}: a dwell cannot be negative")
    inverse = g["feed mode"] == 930 if "feed mode" in g else m.inverse_time
    if inverse and motion in (10, 20, 30):
        if "f" not in values:
            raise LineError(f"under G93 every {g_name(motion)} line needs its own F")
        if values["f"] == 0:
            raise LineError("F0 under G93: the move would never end")


def _speeds_and_tools(block: Block, g: dict[str, int], mw: dict[str, int], m: Machine) -> None:
    """Feed mode, F, S, T, M6, spindle (items 2 to 9 of table 8); coolant and overrides change nothing here.

    F on a line with G20 or G21 is taken in the unit that line brings into force. Until a first M6 a T word
    alone names the cutter in the spindle: programs for machines without a changer have no M6.
    """
    values = block.values
    if "feed mode" in g:
        inverse = g["feed mode"] == 930
        if inverse != m.inverse_time:
            m.feed = math.nan
        m.inverse_time = inverse
    if "f" in values:
        unit = {200: INCH, 210: 1.0}.get(g.get("units", 0), m.unit)
        m.feed = values["f"] if m.inverse_time else values["f"] * unit
    if "s" in values:
        m.rpm = values["s"]
    if "t" in values:
        m.selected = as_integer(values["t"], "T")
        if not m.changed_tool:
            m.tool = m.selected
    if "tool change" in mw:
        m.tool, m.changed_tool, m.spindle = m.selected, True, 0
    if "spindle" in mw:
        m.spindle = {3: 1, 4: -1, 5: 0}[mw["spindle"]]


def _settings(block: Block, g: dict[str, int], m: Machine) -> None:
    """Dwell, plane, units, coordinate system, distance mode, cycle return (items 10 to 18).

    Tool length offsets need a table of tools, which a program does not hold: the number G43 H names is kept with
    every motion, and positions are those of the tool's tip either way.
    """
    if g.get("one line only") == 40:
        m.dwell += block.values["p"]
    if "plane" in g:
        m.plane = g["plane"] // 10
    if "units" in g:
        m.unit = INCH if g["units"] == 200 else 1.0
    if "tool length" in g:
        m.length = round(block.values["h"]) if g["tool length"] == 430 else 0
    if "coordinate system" in g:
        m.select_system(g["coordinate system"])
    if "distance" in g:
        m.incremental = g["distance"] == 910
    if "cycle return" in g:
        m.to_old_height = g["cycle return"] == 980


def _target(block: Block, m: Machine, machine_axes: bool = False) -> Place:
    """Where the axis words of the line point, in machine coordinates."""
    values, unit = block.values, m.unit
    place = [m.x, m.y, m.z]
    work = (0.0, 0.0, 0.0) if machine_axes else m.work
    for axis, letter in enumerate("xyz"):
        if letter not in values:
            continue
        value = values[letter] * unit
        if m.incremental and not machine_axes:
            place[axis] += value
        else:
            place[axis] = value + work[axis]
    return (place[0], place[1], place[2])


def _once(block: Block, g: dict[str, int], m: Machine) -> None:
    """G28, G30, G10 and the G92 family (item 19)."""
    once = g.get("one line only")
    if once in (280, 300):
        home = m.stored_place(HOME if once == 280 else SECOND_HOME)
        if any(letter in block.values for letter in "xyz"):
            m.go(0, _target(block, m))
        m.go(0, home)
    elif once == 100:
        _set_origin(block, m)
    elif once == 920:
        origin = m.stored_place(ORIGINS + 20 * (m.system - 1))
        offsets = list(m.axis_offsets)
        for axis, letter in enumerate("xyz"):
            if letter in block.values:
                offsets[axis] = m.position[axis] - origin[axis] - block.values[letter] * m.unit
        _offset_axes(m, (offsets[0], offsets[1], offsets[2]), keep=True)
    elif once == 921:
        _offset_axes(m, (0.0, 0.0, 0.0), keep=True)
    elif once == 922:
        _offset_axes(m, (0.0, 0.0, 0.0), keep=False)
    elif once == 923:
        _offset_axes(m, m.stored_place(AXIS_OFFSETS), keep=False)


def _offset_axes(m: Machine, offsets: Place, keep: bool) -> None:
    m.axis_offsets = offsets
    if keep:
        m.store_place(AXIS_OFFSETS, offsets)
    m.refresh_work()


def _set_origin(block: Block, m: Machine) -> None:
    values = block.values
    if as_integer(values.get("l", 0.0), "L") != 2:
        raise LineError("G10 needs L2: it sets the origin of a coordinate system, nothing else")
    system = as_integer(values.get("p", 0.0), "P")
    if not 1 <= system <= 9:
        raise LineError("G10 L2 needs P1 to P9, the coordinate system to set")
    base = ORIGINS + 20 * (system - 1)
    origin = list(m.stored_place(base))
    for axis, letter in enumerate("xyz"):
        if letter in values:
            origin[axis] = values[letter] * m.unit
    m.store_place(base, (origin[0], origin[1], origin[2]))
    if system == m.system:
        m.refresh_work()


def _motion(block: Block, g: dict[str, int], motion: int | None, m: Machine) -> None:
    """The motion of the line (item 20); the motion word is in force from here on even where it fails."""
    word = g.get("motion")
    if word is not None:
        m.motion = word
        if word not in CYCLES:
            m.sticky = {}
    if motion is None:
        return
    fixed = g.get("one line only") == 530
    if fixed:
        _check_machine_axes(motion, m)
    if motion in CYCLES:
        run_cycle(block, m, motion)
        return
    end = _target(block, m, machine_axes=fixed)
    if motion == 0:
        m.go(0, end)
        return
    if m.feed == 0.0:
        raise LineError(f"{g_name(motion)} at a feed of zero would never end")
    if motion == 382:
        _probe(block, m, end)
    elif motion == 10:
        length = math.dist(m.position, end)
        m.go(1, end, m.feed * length if m.inverse_time else m.feed)
    else:
        end, centre = arc_of(block, m, end, clockwise=motion == 20)
        feed = m.feed
        if m.inverse_time:
            feed *= arc_length(m.position, end, centre, m.plane, clockwise=motion == 20)
        m.go(motion // 10, end, feed, centre)


def _check_machine_axes(motion: int, m: Machine) -> None:
    if motion not in (0, 10):
        raise LineError(f"G53 goes with G0 or G1 alone, not with {g_name(motion)}")
    if m.incremental:
        raise LineError("G53 names places on the machine and cannot be used with G91")


def _probe(block: Block, m: Machine, end: Place) -> None:
    """G38.2: taken as a straight move to its far end, where the probe would have met nothing sooner."""
    if m.inverse_time:
        raise LineError("G38.2 cannot be used with G93")
    if math.dist(m.position, end) < PROBE_LEAST:
        raise LineError(f"G38.2 must move at least {PROBE_LEAST} mm (0.01 in)")
    m.cycle = PROBING
    try:
        m.go(1, end, m.feed)
    finally:
        m.cycle = 0
    work = m.work
    m.store_place(PROBED, (end[0] - work[0], end[1] - work[1], end[2] - work[2]))


def _stop(mw: dict[str, int], m: Machine) -> None:
    """M0, M1, M60 stop; M2 and M30 end the program (item 21, section 3.6.1); nothing after them is read."""
    word = mw.get("stopping")
    if word in (0, 1, 60):
        m.stops.append(m.line)
    elif word in (2, 30):
        m.ended = True
