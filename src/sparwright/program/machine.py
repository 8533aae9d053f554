"""The state a program works on: where the tool is, which words are in force, and the tape its motions go on.

One mutable record, private to the reader. Positions are machine coordinates in mm throughout.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

from sparwright.program import limits
from sparwright.program.expressions import LineError, number_text
from sparwright.program.limits import FARTHEST, PARAMETERS
from sparwright.program.modal import SYSTEMS
from sparwright.program.tape import Place, Tape
from sparwright.program.words import g_name

HOME, SECOND_HOME, AXIS_OFFSETS, ORIGINS, PROBED = 5161, 5181, 5211, 5221, 5061
_LENGTHS = frozenset(
    base + axis
    for base in (PROBED, HOME, SECOND_HOME, AXIS_OFFSETS, *(ORIGINS + 20 * n for n in range(9)))
    for axis in range(3)
)
NO_CENTRE = (math.nan, math.nan, math.nan)

# Axes of each plane: two in the plane, right-handed about the third. Section 3.5.2.
PLANE_AXES = {17: (0, 1, 2), 18: (2, 0, 1), 19: (1, 2, 0)}


@dataclass(slots=True)
class Machine:
    """The machine as the program sees it.

    x, y, z: tool tip. tape: motions so far. wx, wy, wz: origin of the active coordinate system plus the G92
    offset. unit: mm in one program unit. motion: motion word in force, in tenths. feed: mm/min, nan before any.
    length: number of the tool length in force, 0 under G49. stale: the slow state may differ from the tape's last mark; whoever
    changes it says so.
    """

    x: float
    y: float
    z: float
    tape: Tape
    wx: float = 0.0
    wy: float = 0.0
    wz: float = 0.0
    unit: float = 1.0
    motion: int = 800
    plane: int = 17
    incremental: bool = False
    inverse_time: bool = False
    feed: float = math.nan
    rpm: float = 0.0
    spindle: int = 0
    selected: int = 0
    tool: int = 0
    changed_tool: bool = False
    length: int = 0
    to_old_height: bool = True
    system: int = 1
    axis_offsets: Place = (0.0, 0.0, 0.0)
    cycle: int = 0
    sticky: dict[str, float] = field(default_factory=dict)
    parameters: dict[int, float] = field(default_factory=dict)
    line: int = 0
    dwell: float = 0.0
    ended: bool = False
    stops: list[int] = field(default_factory=list)
    cycle_motions: int = 0
    stale: bool = True

    # --- parameters (section 3.2.1) ---------------------------------------------------------------------

    def parameter(self, number: int) -> float:
        """Value of #number; lengths are kept in mm and seen in the unit in force."""
        if number == 5220:
            return float(self.system)
        value = self.parameters.get(number, 0.0)
        return value / self.unit if number in _LENGTHS else value

    def set_parameter(self, number: int, value: float) -> None:
        """Set #number. Number 5220 is set by G54 to G59.3 alone; what a program writes there is not kept."""
        if 1 <= number < PARAMETERS and number != 5220:
            self.parameters[number] = value * self.unit if number in _LENGTHS else value

    def stored_place(self, base: int) -> Place:
        """Three length parameters from `base`, mm."""
        x, y, z = (self.parameters.get(base + axis, 0.0) for axis in range(3))
        for value in (x, y, z):
            if abs(value) > FARTHEST:
                raise LineError(
                    f"the place in #{base} to #{base + 2} lies beyond ±{number_text(FARTHEST)} mm"
                )
        return (x, y, z)

    def store_place(self, base: int, place: Place) -> None:
        """Keep three lengths in mm from parameter `base`."""
        self.parameters.update({base + axis: place[axis] for axis in range(3)})

    # --- offsets (sections 3.5.13, 3.5.18) --------------------------------------------------------------

    def refresh_work(self) -> None:
        """Take the active system's origin and the G92 offset into use."""
        origin = self.stored_place(ORIGINS + 20 * (self.system - 1))
        self.wx, self.wy, self.wz = (o + a for o, a in zip(origin, self.axis_offsets, strict=True))

    def select_system(self, word: int) -> None:
        """Make the coordinate system of a G54 to G59.3 word the active one."""
        before = self.system
        self.system = SYSTEMS[word]
        try:
            self.refresh_work()
        except LineError as error:
            self.system = before
            raise LineError(f"{g_name(word)}: {error}") from None

    @property
    def position(self) -> Place:
        """The tool tip."""
        return (self.x, self.y, self.z)

    @property
    def work(self) -> Place:
        """What is taken off machine coordinates to give work coordinates."""
        return (self.wx, self.wy, self.wz)

    # --- motions ----------------------------------------------------------------------------------------

    def go(self, kind: int, end: Place, feed: float = math.nan, centre: Place = NO_CENTRE) -> None:
        """Add one motion from where the tool is to `end`."""
        if abs(end[0]) > FARTHEST or abs(end[1]) > FARTHEST or abs(end[2]) > FARTHEST:
            raise LineError(f"the motion ends beyond ±{number_text(FARTHEST)} mm")
        if self.cycle > 80:
            self.cycle_motions += 1
            if self.cycle_motions > limits.MOST_CYCLE_MOTIONS:
                raise LineError(
                    f"canned cycles have made {limits.MOST_CYCLE_MOTIONS} motions; this reader makes no more"
                )
        if self.stale:
            self.tape.mark(
                (
                    self.rpm,
                    self.spindle,
                    self.tool,
                    self.plane,
                    self.cycle,
                    self.wx,
                    self.wy,
                    self.wz,
                    self.length,
                )
            )
            self.stale = False
        self.tape.add(kind, self.line, end, feed, centre)
        self.x, self.y, self.z = end
