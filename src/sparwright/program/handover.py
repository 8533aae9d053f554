"""How the machine's state passes between the two ways through a line: two small arrays, and places in them."""

from __future__ import annotations

import numpy as np

from sparwright.program.machine import Machine

# Places in the array of floats, and its length.
X, Y, Z, WX, WY, WZ, UNIT, FEED, RPM = 0, 1, 2, 3, 4, 5, 6, 7, 8
FLOATS = 9
# Places in the array of whole numbers, and its length. MOTION is in tenths; LINE is the number of the last line
# done; STICKY is 0 once a motion word has emptied what canned cycles keep; SEEN: a line that is not blank was met.
MOTION, PLANE, INCREMENTAL, INVERSE, SPINDLE, SELECTED, TOOL, CHANGED, LENGTH = 0, 1, 2, 3, 4, 5, 6, 7, 8
OLD_HEIGHT, STICKY, STALE, LINE, BLOCKS, SEEN, DELETE, COUNT, MARKS = 9, 10, 11, 12, 13, 14, 15, 16, 17
WHOLES = 18

# What the compiled way comes back with: all lines done, a line for the other way, or no room on the tape.
DONE, HAND, ROOM = 0, 1, 2


def lend(m: Machine, floats: np.ndarray, wholes: np.ndarray) -> None:
    """Write the machine's state into the arrays; BLOCKS, SEEN and DELETE are the caller's."""
    floats[:] = (m.x, m.y, m.z, m.wx, m.wy, m.wz, m.unit, m.feed, m.rpm)
    wholes[:LINE] = (
        m.motion,
        m.plane,
        m.incremental,
        m.inverse_time,
        m.spindle,
        m.selected,
        m.tool,
        m.changed_tool,
        m.length,
        m.to_old_height,
        1,
        m.stale,
    )
    wholes[LINE] = m.line
    wholes[COUNT], wholes[MARKS] = m.tape.count, m.tape.mark_count


def take_back(m: Machine, floats: np.ndarray, wholes: np.ndarray) -> None:
    """The machine's state as the compiled way left it."""
    m.x, m.y, m.z, _, _, _, m.unit, m.feed, m.rpm = floats.tolist()
    whole = wholes.tolist()
    m.motion, m.plane = whole[MOTION], whole[PLANE]
    m.incremental, m.inverse_time = bool(whole[INCREMENTAL]), bool(whole[INVERSE])
    m.spindle, m.selected, m.tool = whole[SPINDLE], whole[SELECTED], whole[TOOL]
    m.length, m.to_old_height = whole[LENGTH], bool(whole[OLD_HEIGHT])
    m.stale, m.line = bool(whole[STALE]), whole[LINE]
    if not whole[STICKY]:
        m.sticky = {}
    m.tape.count, m.tape.mark_count = whole[COUNT], whole[MARKS]
