"""The mesher kept silent."""

from __future__ import annotations

import ctypes
import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager


@contextmanager
def quiet() -> Iterator[None]:
    """Keep the mesher's own words off standard output, where a failed mesh would spoil a command's JSON.

    The mesher writes past Python, so the output itself is turned away for the moment.
    """
    sys.stdout.flush()
    try:
        kept = os.dup(1)
    except OSError:  # there is no standard output to spoil
        yield
        return
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, 1)
    try:
        yield
    finally:
        if os.name == "posix":
            ctypes.CDLL(None).fflush(None)
        os.dup2(kept, 1)
        os.close(nowhere)
        os.close(kept)
