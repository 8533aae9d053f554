"""The page on the proof shows the kinds of finding as the code has them, and the code makes no other."""

import re
from pathlib import Path

from sparwright.proof.kinds import BY_NAME, SUMMARIES, page

ROOT = Path(__file__).parents[2]
BEGIN, END = "<!-- kinds: written by python -m sparwright.proof.kinds -->", "<!-- end of kinds -->"


def named_in_code():
    """First string of every finding made, in the constructors, in `passed` and in `blame_moves`."""
    found = set()
    for path in (ROOT / "src" / "sparwright" / "proof").glob("*.py"):
        text = path.read_text(encoding="utf-8")
        found |= set(re.findall(r'ProofFinding\(\s*"([a-z ]+)"', text))
        found |= set(re.findall(r'passed\(\s*"([a-z ]+)"', text))
        found |= set(re.findall(r'blame_moves\(\s*case,\s*"([a-z ]+)"', text))
    return found


def test_the_page_shows_every_kind():
    text = (ROOT / "docs" / "proof.md").read_text(encoding="utf-8")
    assert text.split(BEGIN)[1].split(END)[0].strip() == page()


def test_every_finding_made_is_of_a_kind():
    assert named_in_code() - set(BY_NAME) - set(SUMMARIES) == set()


def test_every_kind_says_what_it_means_and_what_to_do():
    for kind in BY_NAME.values():
        assert kind.when
        assert kind.means.endswith(".")
        assert kind.cure.endswith(".")
        assert kind.means[0].isupper()
        assert kind.cure[0].isupper()
