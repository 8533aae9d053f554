"""The tutorial, followed word for word: its files written, its commands run, its printed lines found in order."""

from __future__ import annotations

import glob
import re
import shlex
import shutil
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parents[1]
BLOCK = re.compile(r"^```(toml|console|text)\n(.*?)^```$", re.MULTILINE | re.DOTALL)


def write(job: Path, text: str) -> None:
    """Put a block into the job: a line whose key is there already replaces it, anything else is added."""
    lines = text.strip().splitlines()
    if len(lines) == 1:
        key = lines[0].split("=")[0].strip()
        old = job.read_text()
        assert len(re.findall(rf"^{key} = .*$", old, re.MULTILINE)) == 1, key
        job.write_text(re.sub(rf"^{key} = .*$", lines[0], old, flags=re.MULTILINE))
    else:
        before = job.read_text() + "\n" if job.exists() else ""
        job.write_text(before + text)


def run(line: str, folder: Path) -> str:
    """One command of the page, as a shop's shell would run it; what it prints, both streams."""
    words = shlex.split(line)
    if words[0] == "cp":
        for name in words[1:-1]:
            shutil.copy(ROOT / name, folder / words[-1])
        return ""
    assert words[:2] == ["python3", "run.py"], line
    given = [g for w in words[2:] for g in (sorted(glob.glob(w, root_dir=folder)) or [w])]
    done = subprocess.run(
        [sys.executable, "-m", "sparwright.cli", *given],
        cwd=folder,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode in (0, 1, 2), done.stderr
    return done.stderr + done.stdout


def assert_printed(shown: str, printed: str) -> None:
    """Every shown line is a printed one, in the same order; "..." stands for anything."""
    rest = iter(printed.splitlines())
    for line in shown.splitlines():
        if line.strip() in ("", "..."):
            continue
        wanted = re.compile(".*".join(re.escape(part) for part in line.strip().split("...")))
        assert any(wanted.fullmatch(have.strip()) for have in rest), f"{line!r} is not in\n{printed}"


def test_the_tutorial_gives_what_it_says(tmp_path: Path) -> None:
    text = (ROOT / "docs" / "tutorial.md").read_text()
    folder = tmp_path / "camera-rail"
    folder.mkdir()
    printed, commands = "", 0
    for kind, block in BLOCK.findall(text):
        if kind == "toml":
            write(folder / "job.toml", block)
        elif kind == "console":
            printed = run(block.strip(), tmp_path)
            commands += 1
        else:
            assert_printed(block, printed)
    assert commands == 9
    assert (folder / "packet" / "packet.pdf").read_bytes().startswith(b"%PDF")
    assert "Traceback" not in printed
