"""What a wheel carries for the page in one packed file: the page's own files and the help pages.

hatch_build.py makes it. Where the package is used in place there is none, and everything is read where it lies.
"""

from __future__ import annotations

import json
import lzma
from functools import lru_cache
from pathlib import Path

PACKED = Path(__file__).parent / "packed.xz"


@lru_cache(maxsize=1)
def packed() -> dict[str, str]:
    """All texts by place: static/page.js, help/proof. Empty where nothing is packed."""
    if not PACKED.is_file():
        return {}
    found: dict[str, str] = json.loads(lzma.decompress(PACKED.read_bytes()))
    return found
