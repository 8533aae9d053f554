"""Packs the job page's own files and the pages that help in place shows into one file of a wheel.

An editable install reads them where they lie.
"""

from __future__ import annotations

import json
import lzma
import shutil
import tempfile
from pathlib import Path
from typing import Any

from hatchling.builders.hooks.plugin.interface import BuildHookInterface

STATIC = Path("src", "sparwright", "page", "static")
HELP = (
    *(f"question-{n}" for n in range(1, 7)),
    *(
        "stiffness",
        "local",
        "machine",
        "placing",
        "cutting",
        "cutting-paths",
        "proof",
        "cautions",
        "own-machine",
    ),
)
"""Pages of docs/ that a wheel takes along; the job file's reference is made from the models."""


class CustomBuildHook(BuildHookInterface):
    """Runs before a wheel is put together, and after."""

    def initialize(self, version: str, build_data: dict[str, Any]) -> None:
        """Pack."""
        if version == "standard":
            self._packed = Path(tempfile.mkdtemp())
            file = self._packed / "packed.xz"
            file.write_bytes(pack(Path(self.root)))
            build_data["force_include"][str(file)] = "sparwright/page/packed.xz"

    def finalize(self, version: str, build_data: dict[str, Any], artifact_path: str) -> None:
        """Put away what was packed."""
        if version == "standard":
            shutil.rmtree(self._packed)


def pack(root: Path) -> bytes:
    """Help pages and the page's own files by their place, together."""
    places = {f"help/{name}": root / "docs" / f"{name}.md" for name in HELP}
    own = sorted(f for f in (root / STATIC).rglob("*.*") if f.is_file())
    places |= {f"static/{f.relative_to(root / STATIC).as_posix()}": f for f in own}
    texts = {place: file.read_text(encoding="utf-8") for place, file in places.items()}
    data = json.dumps(texts, ensure_ascii=False, separators=(",", ":")).encode()
    return lzma.compress(data, preset=9 | lzma.PRESET_EXTREME)
