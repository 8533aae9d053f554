"""Words the reader is told to pass over: which may be named, and what is passed over of a line."""

from __future__ import annotations

import re
from collections.abc import Iterable

from sparwright.program.modal import G_GROUPS, M_GROUPS
from sparwright.program.words import g_name

_LETTERS = frozenset("ABCEOUVW;")
_KNOWN = frozenset(g_name(word) for words in G_GROUPS.values() for word in words) | frozenset(
    f"M{word}" for words in M_GROUPS.values() for word in words
)
_WORD = re.compile(r"G[0-9]{1,3}(\.[1-9])?|M[0-9]{1,3}")


def words_to_pass_over(names: Iterable[str]) -> frozenset[str]:
    """The names in the form the reader compares: letters small, G and M words as `G5.1`, `M98`.

    A name is one of the letters A, B, C, E, O, U, V, W, the sign ";" (the rest of the line after it), or a G or
    M word that NIST IR 6556 does not know. Raises ValueError for any other: a word with a meaning cannot be passed over.
    """
    found = set()
    for name in names:
        word = name.strip().upper()
        if _WORD.fullmatch(word):
            number = word[1:].lstrip("0")
            word = word[0] + (number if number and not number.startswith(".") else f"0{number}")
        if word in _KNOWN:
            raise ValueError(f"{word} has a meaning in NIST IR 6556 and cannot be passed over")
        if word not in _LETTERS and not _WORD.fullmatch(word):
            raise ValueError(
                f'"{name}" cannot be passed over; name one of the letters A, B, C, E, O, U, V, W, the sign ";", '
                "or a G or M word that NIST IR 6556 does not know, such as M98"
            )
        found.add(word.lower() if len(word) == 1 else word)
    return frozenset(found)
