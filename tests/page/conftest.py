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

    yield from serve(copy_job(tmp_path_factory.mktemp("page")), "--plan-when-asked")


@pytest.fixture(scope="session")
def short_plan(tmp_path_factory: pytest.TempPathFactory) -> object:
    """A short beam planned as far as its programs."""
    from page_help import copy_job
    from picture_help import programs_of, shorten

    return programs_of(shorten(copy_job(tmp_path_factory.mktemp("short"))))


@pytest.fixture(scope="session")
def planned(tmp_path_factory: pytest.TempPathFactory) -> Iterator[object]:
    """The page of a short beam, its whole plan there; who changes the job puts it back."""
    from page_help import copy_job, serve
    from picture_help import shorten

    for found in serve(shorten(copy_job(tmp_path_factory.mktemp("planned")))):
        found.until(lambda s: not s["work"]["running"] and all(b["by"] == "plan" for b in s["bands"]), 400)
        yield found


@pytest.fixture(scope="session")
def short_runs(short_plan: object) -> object:
    """Its programs, cut in simulation."""
    from sparwright.page.simulated import runs_of

    return runs_of(short_plan)


@pytest.fixture(scope="session")
def chromium() -> Iterator[object]:
    """A browser without a window."""
    import shutil

    from page_help import FLAGS

    api = pytest.importorskip("playwright.sync_api")
    path = shutil.which("chromium")
    if path is None:
        pytest.skip("needs chromium (Debian: apt install chromium)")
    with api.sync_playwright() as p:
        found = p.chromium.launch(executable_path=path, args=FLAGS)
        yield found
        found.close()


@pytest.fixture
def opened(chromium) -> Iterator[object]:
    """Opens addresses in tabs whose consoles must stay silent."""
    tabs, said = [], []

    def go(address: str, width: int = 1280) -> object:
        tab = chromium.new_page(viewport={"width": width, "height": 900})
        tab.set_default_timeout(60_000)
        tab.on("console", lambda m: said.append(m.text) if m.type in ("error", "warning") else None)
        tab.on("pageerror", lambda e: said.append(str(e)))
        tab.goto(address)
        tabs.append(tab)
        return tab

    yield go
    for tab in tabs:
        tab.close()
    # Software rendering and the fonts a bare page lacks are not the drawing's.
    passing = ("GPU stall", "swiftshader", "OTS parsing error", "decode downloaded font")
    assert [s for s in said if not any(p.lower() in s.lower() for p in passing)] == []
