"""Feed the reader broken programs by the million, and watch for crashes, hangs, growing memory and disagreement.

    python benchmarks/fuzz_reader.py fast [blocks] [seconds] [seed] [folder]
    python benchmarks/fuzz_reader.py guided [blocks] [seconds] [seed] [folder]

Programs grow from those in tests/program/corpus, and from those in the folder where one is given, by random changes
(fuzz_text.py). Both ways of reading must agree to the last bit on every program that is read both ways.

guided: short programs, the kernels not compiled but run as the Python they are written in, so that every step from one
line of the reader's source to the next is seen, the kernels' too. A program that takes a step none has taken before is kept as
stock for later ones, and written to the folder. fast: long programs, compiled; every eighth one is read word by word as well.

The run fails where a program crashes the reader, takes over 10 s, is read in two different ways, or where the memory held
at the end is more than a little over what was held after the first programs.
"""

from __future__ import annotations

import gc
import hashlib
import os
import random
import resource
import signal
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from types import CodeType, FrameType
from typing import Any

if __name__ == "__main__" and sys.argv[1:2] == ["guided"]:
    os.environ["NUMBA_DISABLE_JIT"] = "1"  # before the compiler is loaded

import numba
import numpy as np

sys.path.insert(0, str(Path(__file__).parent))

from fuzz_text import changed, many

from sparwright.program import kernels, plain, reader
from sparwright.program.model import Reading

CORPUS = Path(__file__).parent.parent / "tests" / "program" / "corpus"
ROOM = str(Path(reader.__file__).parent)
LONGEST = 10.0  # seconds one program may take before it counts as a hang
SHORT = 400  # bytes of a program that is watched line by line
WARM = 2000  # programs after which memory must have settled
GROWTH = 24.0  # MB it may still grow by, once what is kept as stock is taken off: pages held by the allocator
NAMES = (
    "kind", "path", "centre", "feed", "line", "plane", "rpm", "spindle", "tool", "length", "cycle", "work",
)  # fmt: skip
REST = ("blocks", "dwell_seconds", "ended", "errors", "stops", "messages", "passed")
Step = tuple[CodeType, int, int]  # function, line before (0: none), line


def read(data: bytes, way: Any) -> Reading:
    """The reading by one way: compiled, or None for word by word."""
    reader.compiled_lines = lambda size, say=None: way  # type: ignore[assignment]
    return reader.read_program(data, block_delete=len(data) % 3 == 0)


def agree(a: Reading, b: Reading) -> bool:
    """Whether two readings are the same to the last bit."""
    return all(getattr(a, n) == getattr(b, n) for n in REST) and all(
        getattr(a, n).tobytes() == getattr(b, n).tobytes() for n in NAMES
    )


def sound(reading: Reading) -> bool:
    """Whether a reading holds what every reading must."""
    arcs = reading.kind >= 2
    return bool(np.isfinite(reading.path).all() and np.isfinite(reading.centre[arcs]).all()) and all(
        e.line >= 1 and e.message for e in reading.errors
    )


def uncompiled() -> None:
    """Run the kernels as Python. Bytes become whole numbers as the compiler widens them, not ones that wrap at 256; whole
    numbers wrap without a word, as compiled.
    """
    if not numba.config.DISABLE_JIT:
        raise RuntimeError("set NUMBA_DISABLE_JIT=1 before the compiler is loaded")
    inner = kernels.run_lines

    def widened(text: np.ndarray, *rest: Any) -> Any:
        with np.errstate(over="ignore"):
            return inner(text.astype(np.int64), *rest)

    kernels.run_lines = widened


def steps(run: Callable[[], Reading]) -> tuple[Reading, set[Step]]:
    """A reading, and the steps from line to line of the reader's source made in it."""
    met: set[Step] = set()

    def watch(frame: FrameType, event: str, _: object) -> Any:
        code = frame.f_code
        if not code.co_filename.startswith(ROOM):
            return None
        last = 0

        def inside(frame: FrameType, event: str, _: object) -> Any:
            nonlocal last
            if event == "line":
                met.add((code, last, frame.f_lineno))
                last = frame.f_lineno
            return inside

        return inside

    sys.settrace(watch)
    try:
        return run(), met
    finally:
        sys.settrace(None)


def memory() -> float:
    """Memory held now, MB, after what can be freed has been."""
    gc.collect()
    pages = int(Path("/proc/self/statm").read_text().split()[1])
    return pages * resource.getpagesize() / 1e6


@dataclass
class Fuzz:
    """A run. stock: programs to change. known: steps met so far. held: memory after the first programs, MB."""

    draw: random.Random
    stock: list[bytes]
    folder: Path | None = None
    known: set[Step] = field(default_factory=set)
    kept: int = 0
    kept_bytes: int = 0
    blocks: int = 0
    programs: int = 0
    both: int = 0
    slowest: float = 0.0
    held: float = 0.0
    now: bytes = b""

    def fast(self) -> None:
        """One long program, compiled; every eighth both ways."""
        self.now = many(self.draw, self.stock)
        found = self._timed(lambda: read(self.now, plain.read_compiled))
        if self.programs % 8 == 0:
            self._compare(found, read(self.now, None))
        self._counted(found)

    def guided(self) -> None:
        """One short program, both ways, every step of both watched."""
        self.now = changed(self.draw.choice(self.stock), self.draw, self.stock, SHORT)
        self._watched()

    def _watched(self) -> None:
        found, met = self._timed(lambda: steps(lambda: read(self.now, plain.read_compiled)))
        words, more = steps(lambda: read(self.now, None))
        self._compare(found, words)
        self._counted(found)
        fresh = (met | more) - self.known
        if fresh:
            self.known |= fresh
            self._keep()

    def begin(self) -> None:
        """Watch the stock itself, so that only what is new counts later."""
        for data in self.stock:
            self.now = data
            for way in (plain.read_compiled, None):
                self.known |= steps(lambda way=way: read(self.now, way))[1]

    def settle(self) -> None:
        """Note the memory held once the first programs are read."""
        if self.programs == WARM:
            self.held = memory()

    def check_memory(self) -> float:
        """Memory held, MB; fails where it has grown since the first programs."""
        now = memory()
        if self.held and now - self.held > GROWTH + 10 * self.kept_bytes / 1e6:
            raise AssertionError(
                f"memory grew from {self.held:.0f} to {now:.0f} MB over {self.programs - WARM} programs"
            )
        return now

    def _keep(self) -> None:
        self.stock.append(self.now)
        self.kept += 1
        self.kept_bytes += len(self.now)
        if self.folder is not None:
            (self.folder / f"{hashlib.sha256(self.now).hexdigest()[:16]}.nc").write_bytes(self.now)

    def _timed(self, run: Callable[[], Any]) -> Any:
        begun = time.perf_counter()
        found = run()
        self.slowest = max(self.slowest, time.perf_counter() - begun)
        return found

    def _compare(self, a: Reading, b: Reading) -> None:
        self.both += 1
        if not agree(a, b):
            raise AssertionError(f"the two ways differ: {self.now!r}")

    def _counted(self, found: Reading) -> None:
        if not sound(found):
            raise AssertionError(f"not sound: {self.now!r}")
        self.blocks += found.blocks
        self.programs += 1


def stock_of(folder: Path | None, longest: int | None = None) -> list[bytes]:
    """Programs of the corpus and of the folder, no longer than so many bytes."""
    paths = sorted(CORPUS.iterdir()) + (sorted(folder.iterdir()) if folder is not None else [])
    return [data for data in (p.read_bytes() for p in paths) if longest is None or len(data) <= longest]


def kernel_share(known: set[Step]) -> tuple[int, int]:
    """Lines of the kernels met, and lines that hold code there."""
    functions = [f for f in vars(kernels).values() if getattr(f, "__module__", "") == kernels.__name__]
    codes = {f.__code__ for f in functions if hasattr(f, "__code__")}
    codes |= {code for code, _, _ in known if code.co_filename == kernels.__file__}
    lines = {(c, n) for c in codes for _, _, n in c.co_lines() if n and n != c.co_firstlineno}
    return len({(c, n) for c, _, n in known if (c, n) in lines}), len(lines)


def main(mode: str, blocks: int, seconds: float, seed: int, folder: str = "") -> None:
    """Run until so many blocks (lines with something on them) or seconds are done."""
    place = Path(folder) if folder else None
    guided = mode == "guided"
    stock = stock_of(place, SHORT if guided else None)
    fuzz = Fuzz(random.Random(seed), stock, place if guided else None)
    first = len(stock)
    if guided:
        uncompiled()
        fuzz.begin()
    first_known, begun = len(fuzz.known), time.time()
    told = begun

    def late(*_: object) -> None:
        raise TimeoutError(f"hang: {fuzz.now!r}")

    signal.signal(signal.SIGALRM, late)
    while fuzz.blocks < blocks and time.time() - begun < seconds:
        signal.setitimer(signal.ITIMER_REAL, LONGEST * (10 if guided else 1))
        fuzz.guided() if guided else fuzz.fast()
        signal.setitimer(signal.ITIMER_REAL, 0)
        fuzz.settle()
        if time.time() - told > 30:
            told = time.time()
            held = fuzz.check_memory()
            print(
                f"  {fuzz.blocks} blocks, {fuzz.programs} programs, {told - begun:.0f} s, {held:.0f} MB, stock {len(stock)}",
                flush=True,
            )
    held = fuzz.check_memory()
    print(
        f"{mode}, seed {seed}: {fuzz.blocks} blocks of {fuzz.programs} programs, {fuzz.both} of them both ways, in "
        f"{time.time() - begun:.0f} s, {time.process_time():.0f} s cpu; no crash, no hang, no disagreement; slowest "
        f"{fuzz.slowest:.2f} s; memory {fuzz.held:.0f} MB after {WARM} programs, {held:.0f} MB at the end"
    )
    if guided:
        met, there = kernel_share(fuzz.known)
        print(
            f"steps of the source {first_known} by the corpus, {len(fuzz.known)} in all; stock {first} to {len(stock)}; "
            f"lines of the kernels run {met} of {there}"
        )


if __name__ == "__main__":
    given = [*sys.argv[1:], *("fast", "1000000", "600", "1", "")[len(sys.argv) - 1 :]]
    main(given[0], int(given[1]), float(given[2]), int(given[3]), given[4])
