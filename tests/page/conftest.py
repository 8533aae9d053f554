"""The helpers' folder is put on the path; a page of a copy of the demo job that the tests of a module share."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

HERE = str(Path(__file__).parent)
if HERE not in sys.path:
    sys.path.insert(0, HERE)


@pytest.fixture(scope="module")
def page(tmp_path_factory: pytest.TempPathFactory) -> Iterator[object]:
    """The page of a copy of the demo job."""
    from page_help import copy_job, serve

    yield from serve(copy_job(tmp_path_factory.mktemp("page")))
