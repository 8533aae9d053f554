"""A program as bytes, cut into pieces that hold whole lines, whatever its size and however it ends its lines."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import BinaryIO

BLOCK = 1 << 20  # bytes read at a time
LONGEST_KEPT = 1 << 16  # bytes kept of a line; any as long is refused for its length, so the rest may go


def blocks_of(file: BinaryIO) -> Iterator[bytes]:
    """The bytes of an open file, BLOCK at a time."""
    while block := file.read(BLOCK):
        yield block


def whole_lines(blocks: Iterable[bytes]) -> Iterator[tuple[bytes, int]]:
    """The same bytes as pieces that end with a line end: bytes, and how many of them count.

    Lines end with LF, CR or CR LF, wherever the blocks were cut; a last line without its end is given one. The
    middle of a line longer than LONGEST_KEPT is left out.
    """
    rest = b""
    for block in blocks:
        piece = rest + block if rest else block
        # A CR at the very end may be half of a CR LF.
        cut = max(piece.rfind(b"\n"), piece.rfind(b"\r", 0, len(piece) - 1)) + 1
        if cut:
            yield piece, cut
        rest = piece[cut:]
        if len(rest) > LONGEST_KEPT:
            rest = rest[:LONGEST_KEPT] + (b"\r" if rest.endswith(b"\r") else b"")
    if rest:
        yield rest + b"\n", len(rest) + 1


def text_lines(piece: bytes, stop: int) -> Iterator[str]:
    """The lines of a piece as text, without their ends; bytes that are no UTF-8 become lone surrogates."""
    whole = piece if stop == len(piece) else piece[:stop]
    lines = whole.replace(b"\r\n", b"\n").replace(b"\r", b"\n").split(b"\n")
    return (as_text(line) for line in lines[:-1])


def as_text(line: bytes) -> str:
    """One line decoded, bytes that are no UTF-8 as lone surrogates."""
    return line.decode("utf-8", "surrogateescape")
