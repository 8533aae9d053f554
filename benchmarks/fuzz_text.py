"""Random changes to programs: bytes flipped, words put in, numbers swapped, lines moved, files spliced."""

from __future__ import annotations

import random

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


def changed(data: bytes, draw: random.Random, stock: list[bytes], longest: int = 20_000) -> bytes:
    """A program with a few random changes, of `longest` bytes at most."""
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
    return bytes(new[:longest])


def many(draw: random.Random, stock: list[bytes]) -> bytes:
    """Up to 64 changed programs one after another, without the ends that would leave the rest unread."""
    data = b"\n".join(changed(draw.choice(stock), draw, stock) for _ in range(draw.choice((1, 4, 16, 64))))
    for end, other in ((b"m2\n", b"m5\n"), (b"m30\n", b"m5\n"), (b"M30\n", b"M5\n"), (b"%", b"")):
        data = data.replace(end, other)
    return data
