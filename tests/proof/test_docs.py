"""The page on the proof names every check, and no check that is not there."""

import re
from pathlib import Path

ROOT = Path(__file__).parents[2]


def named_in_docs():
    page = (ROOT / "docs" / "proof.md").read_text(encoding="utf-8")
    table = page.split("| check | no-go when")[1].split("\n\n")[0]
    cells = [line.split("|")[1] for line in table.splitlines()[2:]]
    return {name.strip() for cell in cells for name in cell.split(",")}


def named_in_code():
    """First string of every finding made: in the constructors, in `passed` and `blame_moves`, and in variables."""
    found = set()
    for path in (ROOT / "src" / "sparwright" / "proof").glob("*.py"):
        text = path.read_text(encoding="utf-8")
        found |= set(re.findall(r'ProofFinding\(\s*"([a-z ]+)"', text))
        found |= set(re.findall(r'passed\(\s*"([a-z ]+)"', text))
        found |= set(re.findall(r'blame_moves\(\s*case,\s*"([a-z ]+)"', text))
    found |= {
        "shank",
        "holder",
        "rapid",
        "plunge",
        "clamp",
        "pad",
        "hole depth",
        "floor",
    }  # named by variables
    return found - {"touch", "obstacles"}  # what several of them say together when nothing is found


def test_every_check_is_on_the_page():
    assert named_in_docs() == named_in_code()
