"""Reading a program: RS-274 text to motions in machine coordinates, as NIST IR 6556 tells it.

Knows nothing of how programs are written here. Every line can go word by word (words.py, execute.py); the
plain lines of long programs go through compiled code instead (kernels.py), which hands back every line it
does not know. Both ways give the same motions and the same messages.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field

from sparwright.program.execute import execute
from sparwright.program.expressions import LineError
from sparwright.program.figures import summary
from sparwright.program.limits import LONGEST_LINE, MOST_ERRORS
from sparwright.program.machine import ORIGINS, Machine
from sparwright.program.modal import SYSTEMS
from sparwright.program.model import ReadError, Reading
from sparwright.program.passing import words_to_pass_over
from sparwright.program.plain import compiled_lines
from sparwright.program.streaming import text_lines, whole_lines
from sparwright.program.tape import Place, Tape
from sparwright.program.words import g_name, split_line

__all__ = ["MOST_ERRORS", "read_pieces", "read_program", "summary"]

Say = Callable[[str], None]
PIECE = 1 << 16  # motions there is room for at first when a program is read in pieces


@dataclass(slots=True)
class Run:
    """A program being read: the machine, what is wrong so far, and what else is kept of the lines since the last piece.

    size: bytes handed in so far. blocks: lines that hold words. percent: a "%" line was met. seen: a line that is not blank was met.
    """

    m: Machine
    block_delete: bool
    pass_over: frozenset[str]
    rapid: float | None
    size: int = 0
    blocks: int = 0
    percent: bool = False
    seen: bool = False
    errors_met: int = 0
    passed_met: int = 0
    errors: list[ReadError] = field(default_factory=list)
    messages: list[tuple[int, str]] = field(default_factory=list)
    passed: list[tuple[int, str]] = field(default_factory=list)

    def line(self, text: str) -> None:
        """Carry out the next line, word by word."""
        m = self.m
        m.line += 1
        bare = text.strip(" \t")
        if not bare and len(text) <= LONGEST_LINE:
            return
        try:
            if bare == "%":
                self._percent_line()
            else:
                self._words(text)
        except LineError as error:
            self.blocks += 1
            if self.errors_met < MOST_ERRORS:
                self.errors.append(ReadError(m.line, str(error)))
            self.errors_met += 1
        self.seen = True

    def _percent_line(self) -> None:
        if self.percent:
            self.m.ended = True
        elif self.seen:
            raise LineError('a "%" line here, but the program did not begin with one')
        self.percent = True

    def _words(self, text: str) -> None:
        m = self.m
        block = split_line(text, m.parameter, self.block_delete, self.pass_over)
        if block.message:
            self.messages.append((m.line, block.message.encode("utf-8", "replace").decode("utf-8")))
        if block.words:
            m.stale = True
            try:
                execute(block, m)
            finally:
                m.stale = True
            for number, value in block.settings:
                m.set_parameter(number, value)
            self.blocks += 1
        for word in block.passed:
            if self.passed_met < MOST_ERRORS:
                self.passed.append((m.line, word))
            self.passed_met += 1

    def take(self, room: int) -> Reading:
        """What was read since the last piece; the next one gets a tape with `room`."""
        m, tape = self.m, self.m.tape
        count = tape.count
        reading = Reading(
            blocks=self.blocks,
            kind=tape.kind[:count],
            path=tape.path[: count + 1],
            centre=tape.centre[:count],
            feed=tape.feed[:count],
            line=tape.line[:count],
            marks_at=tape.marks_at[: tape.mark_count],
            marks=tape.marks[: tape.mark_count],
            dwell_seconds=m.dwell,
            ended=m.ended,
            errors=tuple(self.errors),
            stops=tuple(m.stops),
            rapid=self.rapid,
            messages=tuple(self.messages),
            passed=tuple(self.passed),
        )
        m.tape, m.stale, m.dwell, m.stops = Tape.sized(room, m.position), True, 0.0, []
        self.blocks, self.errors, self.messages, self.passed = 0, [], [], []
        return reading


def read_program(
    text: str | bytes,
    *,
    start: Place = (0.0, 0.0, 0.0),
    offsets: Mapping[str, Place] | None = None,
    rapid: float | None = None,
    block_delete: bool = False,
    pass_over: Iterable[str] = (),
    say: Say | None = None,
) -> Reading:
    """Read a program.

    text: the program, bytes as UTF-8. start: machine position before the first line, mm. offsets: origins of G54
    to G59.3 in machine coordinates, mm, zero where not given. rapid: speed of rapid motions, mm/min, for the
    nominal time. block_delete: leave out lines that begin with "/". pass_over: words to leave out, such as "A" or
    "M98" (see passing.py); they stand in `passed`. say: told in words what takes time. Raises nothing for any
    text: what is wrong stands in `errors` with its line, the motion of that line is not made, and reading goes
    on (the first MOST_ERRORS are kept). Raises ValueError for an offset of an unknown name and for words that
    cannot be passed over. At the start: mm, XY plane, absolute, feed a minute, G54, G98, no motion word in force.
    """
    data = text.encode("utf-8", "surrogatepass") if isinstance(text, str) else bytes(text)
    room = data.count(b"\n") + data.count(b"\r") + 8
    run = _begin(room, start, offsets, rapid, block_delete, pass_over)
    for piece, stop in whole_lines([data]):
        _read_piece(run, piece, stop, say)
        if run.m.ended:
            break
    return run.take(0)


def read_pieces(
    blocks: Iterable[bytes],
    *,
    start: Place = (0.0, 0.0, 0.0),
    offsets: Mapping[str, Place] | None = None,
    rapid: float | None = None,
    block_delete: bool = False,
    pass_over: Iterable[str] = (),
    say: Say | None = None,
) -> Iterator[Reading]:
    """Read a program of any length in bounded memory: the same as read_program, one piece after another.

    blocks: the program's bytes, cut anywhere; `streaming.blocks_of` cuts a file. Each piece holds the motions of
    the lines of about one block, and the messages, stops, dwells and blocks of these lines alone; at least one
    piece comes. `summary` takes them all together.
    """
    run = _begin(PIECE, start, offsets, rapid, block_delete, pass_over)
    for piece, stop in whole_lines(blocks):
        _read_piece(run, piece, stop, say)
        if run.m.ended:
            break
        yield run.take(PIECE)
    yield run.take(0)


def _begin(
    room: int,
    start: Place,
    offsets: Mapping[str, Place] | None,
    rapid: float | None,
    block_delete: bool,
    pass_over: Iterable[str],
) -> Run:
    x, y, z = (float(c) for c in start)
    m = Machine(x, y, z, Tape.sized(room, (x, y, z)))
    for name, origin in (offsets or {}).items():
        m.store_place(_origin_parameter(name), (float(origin[0]), float(origin[1]), float(origin[2])))
    m.refresh_work()
    return Run(m, block_delete, words_to_pass_over(pass_over), rapid)


def _origin_parameter(name: str) -> int:
    systems = {g_name(word): number for word, number in SYSTEMS.items()}
    if name.upper() not in systems:
        raise ValueError(f'"{name}" is not a coordinate system; they are {", ".join(systems)}')
    return ORIGINS + 20 * (systems[name.upper()] - 1)


def _read_piece(run: Run, piece: bytes, stop: int, say: Say | None) -> None:
    """Carry out the lines of a piece, until the program ends."""
    run.size += stop
    through = compiled_lines(run.size, say)
    if through is not None:
        through(run, piece, stop)
        return
    for line in text_lines(piece, stop):
        run.line(line)
        if run.m.ended:
            break
