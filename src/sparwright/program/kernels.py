"""Plain lines read byte by byte, compiled: the way a long program takes. Imported only where it is needed.

A plain line holds N, G0 to G3, G17 to G21, G40, G49, G61, G64, G80, G90, G91, G94, G98, G99, M3 to M5, M7 to
M9, M48, M49, X Y Z I J K R F S T with plain numbers, and comments that are no messages. Any other line, and
any line with anything wrong on it, is handed back untouched: what it means, and what is said about it, is
told in one place only (words.py, execute.py). Every sum here is made as it is made there.
"""

from __future__ import annotations

import math

import numpy as np

from sparwright.compiled import is_compiled, kernel_compiler
from sparwright.program import circle, handover, limits, tape
from sparwright.program.handover import (
    BLOCKS,
    CHANGED,
    COUNT,
    DELETE,
    DONE,
    FEED,
    HAND,
    INCREMENTAL,
    INVERSE,
    LENGTH,
    LINE,
    MARKS,
    MOTION,
    OLD_HEIGHT,
    PLANE,
    ROOM,
    RPM,
    SEEN,
    SELECTED,
    SPINDLE,
    STALE,
    STICKY,
    TOOL,
    UNIT,
    WX,
    WY,
    WZ,
    X,
    Y,
    Z,
)
from sparwright.program.limits import (
    CLOSED,
    FARTHEST,
    GREATEST_VALUE,
    INCH,
    LONGEST_LINE,
    TOLERANCE_INCH,
    TOLERANCE_MM,
)

SOURCES = (__file__, circle.__file__, handover.__file__, limits.__file__, tape.__file__)
kernel = kernel_compiler(*SOURCES)
inner = kernel_compiler(*SOURCES, inner=True)

apart = inner(circle.apart)
judge_centre = inner(circle.judge_centre)
centre_by_radius = inner(circle.centre_by_radius)
TAB, LF, CR, SPACE, OPEN, CLOSE, PLUS, MINUS, DOT, SLASH = 9, 10, 13, 32, 40, 41, 43, 45, 46, 47
POWERS = 10.0 ** np.arange(23)  # each exact
MOST_DIGITS = 15  # such a whole number is exact, and so, once rounded, is its quotient by a power of ten

# Letters as places in the alphabet.
_F, _G, _I, _M, _N, _R, _S, _T, _X, _Y, _Z = (ord(c) - 97 for c in "fgimnrstxyz")
AXES, OFFSETS = 0b111 << _X, 0b111 << _I
PLAIN = AXES | OFFSETS | 1 << _F | 1 << _R | 1 << _S | 1 << _T  # the words that carry a value

# Modal groups as bits of one number: a second word of a group is for the other way to refuse.
G_MOTION, G_PLANE, G_UNITS, G_DISTANCE, G_FEED, G_RETURN, G_SIDE, G_LENGTH, G_PATH = (
    1 << k for k in range(9)
)
M_SPINDLE, M_COOLANT, M_OVERRIDE = (1 << k for k in range(9, 12))
G_GROUP, M_GROUP = np.zeros(100, np.int64), np.zeros(100, np.int64)
for _group, _words in {
    G_MOTION: (0, 1, 2, 3, 80),
    G_PLANE: (17, 18, 19),
    G_UNITS: (20, 21),
    G_DISTANCE: (90, 91),
    G_FEED: (94,),
    G_RETURN: (98, 99),
    G_SIDE: (40,),
    G_LENGTH: (49,),
    G_PATH: (61, 64),
}.items():
    G_GROUP[list(_words)] = _group
M_GROUP[[3, 4, 5]], M_GROUP[[7, 8, 9]], M_GROUP[[48, 49]] = M_SPINDLE, M_COOLANT, M_OVERRIDE


def is_kept() -> bool:
    """Whether these kernels have been compiled and kept for their present text."""
    return is_compiled(*SOURCES)


@inner
def comment_end(text, at):
    """The place after a comment that begins at `at`; -1 where it is not closed, holds another, or may be a message."""
    met = 0  # letters of "msg" met at its start
    k = at + 1
    while True:
        c = text[k]
        if c == CLOSE:
            return k + 1
        if c == OPEN or c == LF or c == CR:  # noqa: SIM109 (compiled)
            return -1
        if met < 3 and (met > 0 or 65 <= c <= 90 or 97 <= c <= 122):
            low = c | 32
            if (met == 0 and low == 109) or (met == 1 and low == 115):
                met += 1
            elif met == 2 and low == 103:
                return -1
            else:
                met = 3
        k += 1


@inner
def line_end(text, at):
    """The end of the line that `at` lies on, without its line end."""
    while text[at] != LF and text[at] != CR:
        at += 1
    return at


@inner
def after_end(text, at, stop):
    """The start of the next line, from the end of a line."""
    if text[at] == CR and at + 1 < stop and text[at + 1] == LF:
        return at + 2
    return at + 1


@inner
def number(text, k):
    """A number with white space anywhere: the place after it, its digits as one whole number, how many they are,
    how many follow the point (-1 without one), and its sign (0 where none is written).
    """
    whole = 0
    digits = 0
    point = -1
    sign = 0
    while True:
        c = np.int64(text[k])
        if 48 <= c <= 57:
            whole = whole * 10 + (c - 48)
            digits += 1
        elif c == DOT and point < 0:
            point = digits
        elif c == SPACE or c == TAB:  # noqa: SIM109 (compiled)
            pass
        elif (c == MINUS or c == PLUS) and sign == 0 and digits == 0 and point < 0:  # noqa: SIM109 (compiled)
            sign = 44 - c
        else:
            return k, whole, digits, digits - point if point >= 0 else -1, sign
        k += 1


@inner
def note(marks_at, marks, held, count, rpm, spindle, tool, plane, wx, wy, wz, length):
    """Note the slow state for the motions from `count` on, where it is not the last of the `held` marks; marks held."""
    if held > 0:
        last = marks[held - 1]
        if (
            last[tape.RPM] == rpm
            and last[tape.SPINDLE] == spindle
            and last[tape.TOOL] == tool
            and last[tape.PLANE] == plane
            and last[tape.CYCLE] == 0.0
            and last[tape.WORK] == wx
            and last[tape.WORK + 1] == wy
            and last[tape.WORK + 2] == wz
            and last[tape.LENGTH] == length
        ):
            return held
    row = marks[held]
    row[tape.RPM], row[tape.SPINDLE], row[tape.TOOL] = rpm, spindle, tool
    row[tape.PLANE], row[tape.CYCLE], row[tape.LENGTH] = plane, 0.0, length
    row[tape.WORK], row[tape.WORK + 1], row[tape.WORK + 2] = wx, wy, wz
    marks_at[held] = count
    return held + 1


@inner
def arc_in_plane(given, value, a, b, n, pu, pv, qu, qv, unit, clockwise):
    """The centre of the line's arc from p to q in the plane of axes a and b, n across: whether all is well, centre."""
    in_plane = given & (1 << (_I + a) | 1 << (_I + b))
    tolerance = TOLERANCE_MM if unit == 1.0 else TOLERANCE_INCH
    if given >> (_I + n) & 1:
        return False, 0.0, 0.0
    if given >> _R & 1:
        if in_plane:
            return False, 0.0, 0.0
        fits, cu, cv = centre_by_radius(pu, pv, qu, qv, value[_R] * unit, clockwise, tolerance)
        return fits == circle.FITS, cu, cv
    if in_plane == 0 or given & (1 << (_X + a) | 1 << (_X + b)) == 0:
        return False, 0.0, 0.0
    cu = pu + (value[_I + a] if given >> (_I + a) & 1 else 0.0) * unit
    cv = pv + (value[_I + b] if given >> (_I + b) & 1 else 0.0) * unit
    fits, _, _ = judge_centre(pu, pv, qu, qv, cu, cv, tolerance)
    return fits == circle.FITS, cu, cv


@inner
def target(given, value, axis, here, unit, work, incremental):
    """Where the word of one axis points, or where the tool is."""
    if given >> (_X + axis) & 1 == 0:
        return here
    if incremental:
        return here + value[_X + axis] * unit
    return value[_X + axis] * unit + work


@kernel
def run_lines(text, at, stop, floats, wholes, kind, line, feeds, centres, path, marks_at, marks):
    """Carry out lines of `text` from `at` as long as they are plain.

    text: uint8, whole lines up to `stop`, the last with its line end. floats, wholes: the state, see handover.py. The rest: the tape's arrays.
    Gives what stopped it (DONE, HAND or ROOM), where that line begins and ends, and where the next begins.
    """
    x, y, z, unit, feed, rpm = floats[X], floats[Y], floats[Z], floats[UNIT], floats[FEED], floats[RPM]
    wx, wy, wz = floats[WX], floats[WY], floats[WZ]
    in_force, plane, spindle = wholes[MOTION], wholes[PLANE], wholes[SPINDLE]
    incremental, inverse, stale = wholes[INCREMENTAL], wholes[INVERSE], wholes[STALE]
    tool, length, line_number = wholes[TOOL], wholes[LENGTH], wholes[LINE]
    blocks, seen, count, held = wholes[BLOCKS], wholes[SEEN], wholes[COUNT], wholes[MARKS]
    value = np.zeros(26)
    found = DONE
    end = at
    after = at
    while at < stop:
        if count >= len(kind) or held >= len(marks_at):
            found = ROOM
            break

        # The line's words, until one is not plain.
        given = 0  # letters met, by bits
        groups = 0
        g_motion, g_plane, g_unit, g_incremental, g_inverse = -1, plane, unit, incremental, inverse
        g_return, g_length, m_spindle = -1, length, spindle
        numbered = words = False
        k = at
        while text[k] == SPACE or text[k] == TAB:
            k += 1
        blank = text[k] == LF or text[k] == CR
        if text[k] == SLASH:
            k = line_end(text, k) if wholes[DELETE] else k + 1
        hand = True
        while True:
            c = np.int64(text[k])
            if c == SPACE or c == TAB:  # noqa: SIM109 (compiled)
                k += 1
                continue
            if c == LF or c == CR:  # noqa: SIM109 (compiled)
                hand = False
                break
            if c == OPEN:
                k = comment_end(text, k)
                if k < 0:
                    break
                continue
            letter = (c | 32) - 97
            if c < 65 or letter < 0 or letter > 25:
                break
            k, whole, digits, decimals, sign = number(text, k + 1)
            if digits == 0 or digits > MOST_DIGITS:
                break
            bare = sign == 0 and decimals < 0
            if PLAIN >> letter & 1:
                v = np.float64(whole)
                if decimals > 0:
                    v /= POWERS[decimals]
                if sign < 0:
                    v = -v
                if (
                    given >> letter & 1
                    or abs(v) > GREATEST_VALUE
                    or (letter == _T and not bare)
                    or (v < 0.0 and (letter == _F or letter == _S))  # noqa: SIM109 (compiled)
                ):
                    break
                given |= 1 << letter
                value[letter] = v
            elif letter == _G:
                group = G_GROUP[whole] if bare and whole < 100 else 0
                if group == 0 or groups & group:
                    break
                groups |= group
                if group == G_MOTION:
                    g_motion = whole * 10
                elif group == G_PLANE:
                    g_plane = whole
                elif group == G_UNITS:
                    g_unit = INCH if whole == 20 else 1.0
                elif group == G_DISTANCE:
                    g_incremental = whole - 90
                elif group == G_FEED:
                    g_inverse = 0
                elif group == G_RETURN:
                    g_return = 99 - whole
                elif group == G_LENGTH:
                    g_length = 0
            elif letter == _M:
                group = M_GROUP[whole] if bare and whole < 100 else 0
                if group == 0 or groups & group:
                    break
                groups |= group
                if group == M_SPINDLE:
                    m_spindle = 1 if whole == 3 else (-1 if whole == 4 else 0)
            elif letter == _N and bare and digits <= 5 and not numbered and not words:
                numbered = True
                continue
            else:
                break
            words = True
        if hand or k - at > LONGEST_LINE:
            found = HAND
            break
        if not words:
            seen |= not blank
            line_number += 1
            at = after_end(text, k, stop)
            continue

        # Which motion, as modal.motion_of and modal.refuse_unused say.
        axes = given & AXES
        motion = g_motion
        if motion < 0 and (axes or in_force == 800):
            motion = in_force
        if (
            (axes == 0 and 0 <= g_motion < 800)
            or (axes and motion > 30)
            or (given & (OFFSETS | 1 << _R) and motion != 20 and motion != 30)
            or (g_inverse and 0 < motion < 800)
        ):
            found = HAND
            break

        # The order of execution, on copies, since the line may still have to be handed back.
        new_feed = feed if g_inverse == inverse else math.nan
        if given >> _F & 1:
            new_feed = value[_F] if g_inverse else value[_F] * g_unit
        ex, ey, ez = x, y, z
        cx, cy, cz = math.nan, math.nan, math.nan
        if axes:
            ex = target(given, value, 0, x, g_unit, wx, g_incremental)
            ey = target(given, value, 1, y, g_unit, wy, g_incremental)
            ez = target(given, value, 2, z, g_unit, wz, g_incremental)
            if (
                abs(ex) > FARTHEST
                or abs(ey) > FARTHEST
                or abs(ez) > FARTHEST
                or (motion > 0 and new_feed == 0.0)
            ):
                found = HAND
                break
        if motion == 20 or motion == 30:
            clockwise = motion == 20
            if g_plane == 17:
                fine, cx, cy = arc_in_plane(given, value, 0, 1, 2, x, y, ex, ey, g_unit, clockwise)
                cz = z
                if apart(x, y, ex, ey) < CLOSED:
                    ex, ey = x, y
            elif g_plane == 18:
                fine, cz, cx = arc_in_plane(given, value, 2, 0, 1, z, x, ez, ex, g_unit, clockwise)
                cy = y
                if apart(z, x, ez, ex) < CLOSED:
                    ez, ex = z, x
            else:
                fine, cy, cz = arc_in_plane(given, value, 1, 2, 0, y, z, ey, ez, g_unit, clockwise)
                cx = x
                if apart(y, z, ey, ez) < CLOSED:
                    ey, ez = y, z
            if not fine:
                found = HAND
                break

        # All is well: the line holds.
        blocks += 1
        seen = 1
        line_number += 1
        feed, inverse, unit, incremental = new_feed, g_inverse, g_unit, g_incremental
        if given >> _S & 1:
            rpm = value[_S]
            stale = 1
        if given >> _T & 1:
            wholes[SELECTED] = np.int64(value[_T])
            if wholes[CHANGED] == 0:
                tool = wholes[SELECTED]
                stale = 1
        if m_spindle != spindle or g_plane != plane or g_length != length:
            spindle, plane, length = m_spindle, g_plane, g_length
            stale = 1
        if g_return >= 0:
            wholes[OLD_HEIGHT] = g_return
        if g_motion >= 0:
            in_force = g_motion
            wholes[STICKY] = 0
        if axes:
            if stale:
                held = note(marks_at, marks, held, count, rpm, spindle, tool, plane, wx, wy, wz, length)
                stale = 0
            kind[count] = motion // 10
            line[count] = line_number
            feeds[count] = feed if motion > 0 else math.nan
            centres[count, 0], centres[count, 1], centres[count, 2] = cx, cy, cz
            count += 1
            path[count, 0], path[count, 1], path[count, 2] = ex, ey, ez
            x, y, z = ex, ey, ez
        at = after_end(text, k, stop)

    if found == HAND:
        end = line_end(text, at)
        after = after_end(text, end, stop)
    floats[X], floats[Y], floats[Z], floats[UNIT], floats[FEED], floats[RPM] = x, y, z, unit, feed, rpm
    wholes[MOTION], wholes[PLANE], wholes[SPINDLE] = in_force, plane, spindle
    wholes[INCREMENTAL], wholes[INVERSE], wholes[STALE] = incremental, inverse, stale
    wholes[TOOL], wholes[LENGTH], wholes[LINE] = tool, length, line_number
    wholes[BLOCKS], wholes[SEEN], wholes[COUNT], wholes[MARKS] = blocks, seen, count, held
    return found, at, end, after
