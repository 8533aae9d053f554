"""The helpers' folder is put on the path, so that the processes a test starts find them too."""

import sys
from pathlib import Path

import pytest

HERE = str(Path(__file__).parent)
if HERE not in sys.path:
    sys.path.insert(0, HERE)


@pytest.fixture(scope="session")
def ribs(bridge_job, bridge_member):
    """A function from words to the changes they make of the bridge beam."""
    from sparwright.sweep.vary import all_changes, read_words

    def make(*words):
        return all_changes(read_words(words, bridge_job, bridge_member.section), bridge_job)

    return make
