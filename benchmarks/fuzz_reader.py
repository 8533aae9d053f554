"""Feed the reader broken programs by the million, and watch for crashes, hangs, growing memory and disagreement.

    python benchmarks/fuzz_reader.py [blocks] [seconds] [seed] [folder]

Programs grow from those in tests/program/corpus by random changes: bytes flipped, words put in, numbers swapped,
lines moved, files spliced. A change that makes the reader run lines of its own source no program has run before is
kept as stock for later ones (coverage-guided). Every program is read compiled; every eighth one, and every short
one, word by word as well, and both must agree to the last bit. What was kept as stock is written to the folder, where one
is given: small ones worth keeping belong into the corpus. Prints the count, the slowest program, and memory.
"""

from __future__ import annotations

import random
import resource
import signal
import sys
import time
from pathlib import Path
from types import CodeType, FrameType
from typing import Any

import numpy as np

from sparwright.program import kernels, plain, reader  # noqa: F401 (kernels: loaded, so that its code is used)
from sparwright.program.model import Reading

CORPUS = Path(__file__).parent.parent / "tests" / "program" / "corpus"
ROOM = str(Path(reader.__file__).parent)
LONGEST = 10.0  # seconds one program may take before it counts as a hang
NAMES = (
    "kind",
    "path",
    "centre",
    "feed",
    "line",
    "plane",
    "rpm",
    "spindle",
    "tool",
    "length",
    "cycle",
    "work",
)
REST = ("blocks", "dwell_seconds", "ended", "errors", "stops", "messages", "passed")
TOKENS = [
    *(f"G{n}" for n in (0, 1, 2, 3, 4, 10, 17, 18, 19, 20, 21, 28, 30, 38.2, 40, 41, 43, 49, 53, 54, 59.3, 61, 64, 80)),
    *(f"G{n}" for n in (81, 82, 83, 84, 85, 86, 87, 88, 89, 90, 91, 92, 92.1, 92.2, 92.3, 93, 94, 98, 99)),
    *(f"M{n}" for n in (0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 30, 48, 49, 60, 98)),
    *"XYZIJKRFSTPQLHDNABO#=[](){}/%;.+-*\t \r\n\0\xff",
    *("X1", "Y-2.5", "Z.5", "I3", "J0", "K-1", "R5", "F100", "S9000", "T2", "P1", "Q.5", "L3", "H1", "\r\n"),
    *("[1/0]", "[2**[0-.5]]", "#1", "##2", "#5221", "sin[30]", "atan[1]/[2]", "1e9", "999999999", "0.000000001", "-0"),
    *("(msg, x)", "(c)", "N99999", "mod", "**", "xor", "#1=2", "#5161=99999999", " " * 260, "[" * 130, "9" * 40),
]  # fmt: skip
WORDS = [t.encode("latin-1") for t in TOKENS]


def changed(data: bytes, draw: random.Random, stock: list[bytes]) -> bytes:
    """A program with a few random changes."""
    new = bytearray(data)
    for _ in range(draw.choice((1, 1, 2, 3, 5, 9))):
        at = draw.randrange(len(new) + 1)
        what = draw.random()
        if what < 0.4:
            new[at:at] = draw.choice(WORDS)
        elif what < 0.5:
            new[at : at + draw.randint(1, 12)] = b""
        elif what < 0.6 and at < len(new):
            new[at] = draw.randrange(256)
        elif what < 0.75 and at < len(new):
            new[at : at + draw.randint(1, 6)] = str(round(draw.uniform(-99, 99), draw.randint(0, 4))).encode()
        elif what < 0.9:
            lines = new.split(b"\n")
            taken = draw.choice(draw.choice(stock).split(b"\n"))
            lines.insert(draw.randrange(len(lines) + 1), bytearray(taken))
            new = bytearray(b"\n".join(lines))
        else:
            other = draw.choice(stock)
            begin = draw.randrange(len(other) + 1)
            new[at:at] = other[begin : begin + draw.randint(1, 200)]
    return bytes(new[:20_000])


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


def lines_run(data: bytes) -> set[tuple[CodeType, int]]:
    """The lines of the reader's source that run while a program is read word by word."""
    met: set[tuple[CodeType, int]] = set()

    def watch(frame: FrameType, event: str, _: object) -> Any:
        if not frame.f_code.co_filename.startswith(ROOM):
            return None
        if event == "line":
            met.add((frame.f_code, frame.f_lineno))
        return watch

    sys.settrace(watch)
    try:
        read(data, None)
    finally:
        sys.settrace(None)
    return met


def memory() -> float:
    """Memory held now, MB."""
    pages = int(Path("/proc/self/statm").read_text().split()[1])
    return pages * resource.getpagesize() / 1e6


def main(blocks: int, seconds: float, seed: int, folder: str = "") -> None:
    """Run until so many blocks (lines with something on them) or seconds are done."""
    draw = random.Random(seed)
    stock = [p.read_bytes() for p in sorted(CORPUS.iterdir())]
    known = set().union(*(lines_run(data) for data in stock))
    first_known, first_stock = len(known), len(stock)
    begun, done, programs, slowest, held = time.time(), 0, 0, (0.0, b""), 0.0
    told = begun

    def late(*_: object) -> None:
        raise TimeoutError(f"hang: {data!r}")

    signal.signal(signal.SIGALRM, late)
    while done < blocks and time.time() - begun < seconds:
        data = changed(draw.choice(stock), draw, stock)
        guided = programs % 40 == 0
        if not guided:
            data = b"\n".join(
                changed(draw.choice(stock), draw, stock) for _ in range(draw.choice((1, 4, 16, 64)))
            )
            # A program end would leave the rest unread.
            data = (
                data.replace(b"m2\n", b"m5\n")
                .replace(b"m30\n", b"m5\n")
                .replace(b"M30\n", b"M5\n")
                .replace(b"%", b"")
            )
        signal.setitimer(signal.ITIMER_REAL, LONGEST * (10 if guided else 1))
        t = time.perf_counter()
        found = read(data, plain.read_compiled)
        taken = time.perf_counter() - t
        if not sound(found):
            raise AssertionError(f"not sound: {data!r}")
        if (guided or programs % 8 == 0) and not agree(found, read(data, None)):
            raise AssertionError(f"the two ways differ: {data!r}")
        if guided:
            met = lines_run(data)
            if not met <= known:
                known |= met
                stock.append(data)
        signal.setitimer(signal.ITIMER_REAL, 0)
        done += found.blocks
        programs += 1
        slowest = max(slowest, (taken, data))
        if programs == 2000:
            held = memory()
        if time.time() - told > 30:
            told = time.time()
            print(
                f"  {done} blocks, {programs} programs, {told - begun:.0f} s, {memory():.0f} MB", flush=True
            )
    print(
        f"seed {seed}: {done} blocks of {programs} programs in {time.time() - begun:.0f} s; no crash, no hang, no disagreement; "
        f"slowest {slowest[0]:.2f} s; memory {held:.0f} MB after 2000 programs, {memory():.0f} MB at the end; "
        f"source lines run {first_known} by the corpus, {len(known)} in all; stock {first_stock} to {len(stock)}"
    )
    if folder:
        for k, kept in enumerate(stock[first_stock:]):
            (Path(folder) / f"kept-{seed}-{k:02d}.nc").write_bytes(kept)


if __name__ == "__main__":
    given = sys.argv[1:]
    main(
        int(given[0]) if given else 1_000_000,
        float(given[1]) if len(given) > 1 else 600.0,
        int(given[2]) if len(given) > 2 else 1,
        given[3] if len(given) > 3 else "",
    )
