"""What of a job file its answers and programs rest on: all of it but the units it is shown in."""

from __future__ import annotations

import codecs
import tomllib
from functools import lru_cache

from sparwright.job.positions import Positions, value_at

UNITS = ("job", "units")


@lru_cache(maxsize=32)
def basis_of(data: bytes) -> bytes:
    """The bytes of a job file without the line of `job.units`, a comment on it and a byte-order mark included.

    Where the line holds other keys too, its pair alone is left out. What does not read, or names units there are not, stays as it is.
    """
    body = data.removeprefix(codecs.BOM_UTF8)
    if b"units" not in body:
        return data
    try:
        text = body.decode("utf-8")
        said = value_at(tomllib.loads(text), UNITS)
    except (ValueError, RecursionError):  # what is no UTF-8 or no TOML is a ValueError
        return data
    if said not in ("mm", "inch"):
        return data
    start, end = Positions(text).pairs[UNITS]
    line = body.rfind(b"\n", 0, start) + 1
    rest = body[end:].partition(b"\n")[0].strip()
    if body[line:start].strip() or (rest and not rest.startswith(b"#")):
        return body[:start] + body[end:]
    return body[:line] + body[end:].partition(b"\n")[2]
