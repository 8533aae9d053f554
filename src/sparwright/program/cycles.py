"""Canned cycles G81 to G89 as the motions they stand for: NIST IR 6556, section 3.5.16."""

from __future__ import annotations

import math
from dataclasses import dataclass

from sparwright.program.expressions import LineError, as_integer, number_text
from sparwright.program.limits import MOST_PECKS, MOST_REPEATS, PECK_BACK_OFF
from sparwright.program.machine import PLANE_AXES, Machine
from sparwright.program.tape import Place
from sparwright.program.words import Block, g_name

_DWELLS = {820, 860, 880, 890}


@dataclass(frozen=True)
class _Hole:
    """Heights of a cycle along its axis, mm: the R plane, the bottom, and where it clears to; and its figures."""

    word: int
    retract: float
    bottom: float
    clear: float
    feed: float
    dwell: float = 0.0
    peck: float = 0.0
    back: tuple[float, float, float] = (0.0, 0.0, 0.0)


def run_cycle(block: Block, m: Machine, word: int) -> None:
    """Carry out one line under a canned cycle: preliminary motion, then each repeat.

    Raises LineError, before any motion, for words that are missing or make no sense. The caller empties
    `m.sticky` whenever another kind of motion comes into force.
    """
    if m.inverse_time:
        raise LineError(f"{g_name(word)} cannot be used with G93")
    a, b, axis = PLANE_AXES[m.plane]
    repeats = as_integer(block.values.get("l", 1.0), "L")
    if not 1 <= repeats <= MOST_REPEATS:
        raise LineError(f"L{repeats}: the number of repeats runs from 1 to {MOST_REPEATS}")
    hole = _hole(block, m, word, axis)
    _refuse_endless(hole)
    step = (
        block.values.get("xyz"[a], 0.0 if m.incremental else math.nan) * m.unit,
        block.values.get("xyz"[b], 0.0 if m.incremental else math.nan) * m.unit,
    )
    m.cycle = word // 10
    try:
        if m.position[axis] < hole.retract:
            _to(m, {axis: hole.retract})
        for _ in range(repeats):
            _to(m, _next_place(m, (a, b), step))
            if m.position[axis] != hole.retract:
                _to(m, {axis: hole.retract})
            _BODIES[word](m, axis, hole)
    finally:
        m.cycle = 0


def _sticky(block: Block, m: Machine, letter: str, holds: bool, word: int) -> float:
    if letter in block.values:
        return block.values[letter] * (m.unit if letter != "p" else 1.0)
    if holds and letter in m.sticky:
        return m.sticky[letter]
    raise LineError(f"{g_name(word)} needs {letter.upper()}")


def _hole(block: Block, m: Machine, word: int, axis: int) -> _Hole:
    """The cycle's figures from this line and, where they stay in force, from the lines before it."""
    going = bool(m.sticky)
    same = going and m.sticky.get("word") == word and m.sticky.get("plane") == m.plane
    deep = "xyz"[axis]
    figures = {
        "r": _sticky(block, m, "r", going, word),
        deep: _sticky(block, m, deep, going and m.sticky.get("plane") == m.plane, word),
    }
    for letter, words in (("p", _DWELLS), ("q", {830}), ("i", {870}), ("j", {870}), ("k", {870})):
        if word in words:
            figures[letter] = _sticky(block, m, letter, same, word)
    if figures.get("p", 0.0) < 0:
        raise LineError(f"P{number_text(figures['p'])}: a dwell cannot be negative")
    if figures.get("q", 1.0) <= 0:
        raise LineError(f"{g_name(word)} needs a Q above zero")
    here = m.position[axis]
    if m.incremental:
        retract = here + figures["r"]
        bottom = retract + figures[deep]
    else:
        retract = figures["r"] + m.work[axis]
        bottom = figures[deep] + m.work[axis]
    if retract < bottom:
        raise LineError(
            f"R lies below {deep.upper()}: {number_text(retract)} mm is under {number_text(bottom)} mm"
        )
    _check_spindle(m, word)
    back = _back(m, figures, axis, bottom) if word == 870 else (0.0, 0.0, 0.0)
    m.sticky = figures | {"word": word, "plane": m.plane}
    return _Hole(
        word=word,
        retract=retract,
        bottom=bottom,
        clear=max(here, retract) if m.to_old_height else retract,
        feed=_feed(m, word),
        dwell=figures.get("p", 0.0),
        peck=figures.get("q", 0.0),
        back=back,
    )


def _back(m: Machine, figures: dict[str, float], axis: int, bottom: float) -> tuple[float, float, float]:
    """Back boring: the side steps in the plane, and the height it bores up to, in axis order."""
    back = [figures[letter] for letter in "ijk"]
    back[axis] += bottom if m.incremental else m.work[axis]
    if back[axis] < bottom:
        raise LineError(f"G87 bores upward: {'IJK'[axis]} must lie above {'XYZ'[axis]}")
    return (back[0], back[1], back[2])


def _feed(m: Machine, word: int) -> float:
    if m.feed == 0.0:
        raise LineError(f"{g_name(word)} at a feed of zero would never end")
    return m.feed


def _check_spindle(m: Machine, word: int) -> None:
    if word == 840 and m.spindle != 1:
        raise LineError("G84 needs the spindle turning clockwise (M3)")
    if word in (860, 870, 880) and m.spindle == 0:
        raise LineError(f"{g_name(word)} needs the spindle turning")


def _refuse_endless(hole: _Hole) -> None:
    if hole.peck and (hole.retract - hole.bottom) / hole.peck > MOST_PECKS:
        raise LineError(f"Q{number_text(hole.peck)} mm takes more than {MOST_PECKS} pecks")


def _next_place(m: Machine, axes: tuple[int, int], step: tuple[float, float]) -> dict[int, float]:
    """Where the next hole lies in the plane: one step on, or the place named; nan where it was not named."""
    place = {}
    for axis, value in zip(axes, step, strict=True):
        if m.incremental:
            place[axis] = m.position[axis] + value
        elif not math.isnan(value):
            place[axis] = value + m.work[axis]
    return place


def _to(m: Machine, place: dict[int, float], feed: float | None = None) -> None:
    """Move the axes named; a rapid unless a feed is given."""
    end = [m.x, m.y, m.z]
    for axis, value in place.items():
        end[axis] = value
    target: Place = (end[0], end[1], end[2])
    if feed is None:
        m.go(0, target)
    else:
        m.go(1, target, feed)


def _turn(m: Machine, way: int) -> None:
    """Turn the spindle this way from here on."""
    m.spindle = way
    m.stale = True


def _drill(m: Machine, axis: int, h: _Hole) -> None:
    _to(m, {axis: h.bottom}, h.feed)
    m.dwell += h.dwell
    _to(m, {axis: h.clear})


def _peck(m: Machine, axis: int, h: _Hole) -> None:
    depth = h.retract - h.peck
    while depth > h.bottom + 1e-9:
        _to(m, {axis: depth}, h.feed)
        _to(m, {axis: h.clear})
        _to(m, {axis: min(depth + PECK_BACK_OFF, h.clear)})
        depth -= h.peck
    _to(m, {axis: h.bottom}, h.feed)
    _to(m, {axis: h.clear})


def _tap(m: Machine, axis: int, h: _Hole) -> None:
    _to(m, {axis: h.bottom}, h.feed)
    _turn(m, -1)
    _to(m, {axis: h.retract}, h.feed)
    _turn(m, 1)
    _clear(m, axis, h)


def _bore(m: Machine, axis: int, h: _Hole) -> None:
    _to(m, {axis: h.bottom}, h.feed)
    m.dwell += h.dwell
    _to(m, {axis: h.retract}, h.feed)
    _clear(m, axis, h)


def _bore_stopped(m: Machine, axis: int, h: _Hole) -> None:
    _to(m, {axis: h.bottom}, h.feed)
    m.dwell += h.dwell
    turning = m.spindle
    _turn(m, 0)
    if h.word == 880:
        m.stops.append(m.line)
    _to(m, {axis: h.clear})
    _turn(m, turning)


def _bore_back(m: Machine, axis: int, h: _Hole) -> None:
    place = {k: m.position[k] for k in range(3) if k != axis}
    aside = {k: m.position[k] + h.back[k] for k in place}
    turning = m.spindle
    _to(m, aside)
    _turn(m, 0)
    _to(m, {axis: h.bottom})
    _to(m, place)
    _turn(m, turning)
    _to(m, {axis: h.back[axis]}, h.feed)
    _to(m, {axis: h.bottom}, h.feed)
    _turn(m, 0)
    _to(m, aside)
    _to(m, {axis: h.clear})
    _to(m, place)
    _turn(m, turning)


def _clear(m: Machine, axis: int, h: _Hole) -> None:
    if h.clear != h.retract:
        _to(m, {axis: h.clear})


_BODIES = {
    810: _drill,
    820: _drill,
    830: _peck,
    840: _tap,
    850: _bore,
    860: _bore_stopped,
    870: _bore_back,
    880: _bore_stopped,
    890: _bore,
}
